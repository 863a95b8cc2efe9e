UPDATE finding_concerned SET seen_at = $4
WHERE league_id = $1 AND finding_id = $2 AND member_id = $3 AND seen_at IS NULL
