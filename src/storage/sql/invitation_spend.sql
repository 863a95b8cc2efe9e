UPDATE invitations SET spent_at = $2 WHERE code_hash = $1 AND spent_at IS NULL AND revoked_at IS NULL
