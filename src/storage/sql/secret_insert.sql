INSERT INTO server_secrets (name, secret) VALUES ($1, $2) ON CONFLICT DO NOTHING
