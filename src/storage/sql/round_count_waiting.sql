SELECT count(*) AS rounds FROM rounds WHERE league_id = $1 AND event_id = $2 AND state IN ('proposed', 'late')
