SELECT id, email, password_hash, display_name FROM accounts WHERE email = $1
