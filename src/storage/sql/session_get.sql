SELECT id, account_id, created_at, last_used_at, ended_at FROM sessions WHERE id = $1
