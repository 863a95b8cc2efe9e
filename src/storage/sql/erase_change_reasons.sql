UPDATE standings_changes SET reason = NULL WHERE league_id = $1 AND member_id = $2 AND reason IS NOT NULL
