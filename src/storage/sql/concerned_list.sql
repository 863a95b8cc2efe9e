SELECT member_id, told_at, told_by, seen_at FROM finding_concerned WHERE league_id = $1 AND finding_id = $2 ORDER BY member_id
