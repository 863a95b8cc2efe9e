INSERT INTO server_keys (id, secret, created_at) VALUES ($1, $2, $3)
