UPDATE invitations SET revoked_at = $2 WHERE id = $1 AND spent_at IS NULL AND revoked_at IS NULL
