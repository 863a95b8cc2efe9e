UPDATE sessions SET ended_at = $3 WHERE id = $1 AND account_id = $2 AND ended_at IS NULL
