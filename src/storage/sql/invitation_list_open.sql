SELECT id, league_id, role, member_id, finding_id, expires_at, spent_at, revoked_at
FROM invitations
WHERE league_id = $1 AND id > $2 AND expires_at > $3 AND spent_at IS NULL AND revoked_at IS NULL
ORDER BY id
LIMIT $4
