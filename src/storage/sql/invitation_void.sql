UPDATE invitations SET revoked_at = $4
WHERE league_id = $1 AND (created_by = $2 OR member_id = $3) AND spent_at IS NULL AND revoked_at IS NULL
