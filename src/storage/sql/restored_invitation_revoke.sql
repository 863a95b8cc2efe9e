UPDATE invitations SET revoked_at = $1 WHERE spent_at IS NULL AND revoked_at IS NULL
