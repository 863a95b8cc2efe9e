SELECT account_id, expires_at, spent_at FROM password_resets WHERE code_hash = $1
