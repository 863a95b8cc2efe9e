UPDATE secret_addresses SET revoked_at = $2 WHERE id = $1 AND revoked_at IS NULL
