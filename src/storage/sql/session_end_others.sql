UPDATE sessions SET ended_at = $3 WHERE account_id = $1 AND id <> $2 AND ended_at IS NULL
