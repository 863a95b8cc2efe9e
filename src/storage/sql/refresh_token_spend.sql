UPDATE refresh_tokens SET spent_at = $2, successor_hash = $3, sealed_successor = $4 WHERE hash = $1
