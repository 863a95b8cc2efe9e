UPDATE sessions SET ended_at = $2 WHERE id = $1 AND ended_at IS NULL
