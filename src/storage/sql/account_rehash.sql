UPDATE accounts SET password_hash = $2 WHERE id = $1
