SELECT member_id, setup_id, kind, about, restart, state FROM evidence_rows
WHERE league_id = $1 AND season_id = $2 AND setup_id = $3
