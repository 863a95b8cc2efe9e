UPDATE results SET figures = $4, stamp = $5 WHERE league_id = $1 AND member_id = $2 AND round_id = $3
