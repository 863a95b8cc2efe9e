INSERT INTO password_resets (code_hash, account_id, expires_at) VALUES ($1, $2, $3)
