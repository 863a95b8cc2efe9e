UPDATE secret_addresses SET revoked_at = $1 WHERE revoked_at IS NULL
