UPDATE finding_concerned SET told_at = $3 WHERE league_id = $1 AND member_id = $2 AND told_at IS NULL
