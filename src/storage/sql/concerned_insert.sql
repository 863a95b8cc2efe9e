INSERT INTO finding_concerned (league_id, finding_id, member_id, told_at) VALUES ($1, $2, $3, $4) ON CONFLICT DO NOTHING
