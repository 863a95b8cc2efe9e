UPDATE sessions SET last_used_at = $2 WHERE id = $1
