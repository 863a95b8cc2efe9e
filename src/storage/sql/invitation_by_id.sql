SELECT id, league_id, role, member_id, finding_id, expires_at, spent_at, revoked_at FROM invitations WHERE id = $1
