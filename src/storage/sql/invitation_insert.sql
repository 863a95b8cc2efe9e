INSERT INTO invitations (code_hash, league_id, role, member_id, finding_id, expires_at, created_by, id)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8)
