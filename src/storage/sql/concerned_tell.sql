UPDATE finding_concerned SET told_at = coalesce(told_at, $4), told_by = $5
WHERE league_id = $1 AND finding_id = $2 AND member_id = $3 AND told_by IS NULL
