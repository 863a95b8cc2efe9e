SELECT league_id FROM carried_differentials WHERE id = $1 UNION ALL SELECT league_id FROM carried_results WHERE id = $1
