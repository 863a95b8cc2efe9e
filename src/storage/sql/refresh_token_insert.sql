INSERT INTO refresh_tokens (hash, session_id) VALUES ($1, $2)
