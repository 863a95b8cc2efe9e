SELECT id, account_id, created_at, last_used_at, ended_at, device, is_browser FROM sessions WHERE id = $1
