DELETE FROM accounts WHERE id = $1
