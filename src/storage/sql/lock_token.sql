SELECT hash FROM refresh_tokens WHERE hash = $1 FOR NO KEY UPDATE
