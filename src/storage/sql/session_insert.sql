INSERT INTO sessions (id, account_id, created_at, last_used_at) VALUES ($1, $2, $3, $3)
