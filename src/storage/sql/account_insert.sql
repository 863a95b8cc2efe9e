INSERT INTO accounts (id, email, password_hash, display_name, created_at) VALUES ($1, $2, $3, $4, $5)
ON CONFLICT (email) DO NOTHING
