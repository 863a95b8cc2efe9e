INSERT INTO sessions (id, account_id, created_at, last_used_at, device, is_browser) VALUES ($1, $2, $3, $3, $4, $5)
