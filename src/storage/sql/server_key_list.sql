SELECT id, secret, created_at, retired_at FROM server_keys ORDER BY created_at
