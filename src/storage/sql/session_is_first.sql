SELECT NOT EXISTS (SELECT 1 FROM sessions WHERE account_id = $1) AS is_first
