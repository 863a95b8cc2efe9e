SELECT code_hash, league_id, role, member_id, finding_id, expires_at, spent_at FROM invitations WHERE code_hash = $1
