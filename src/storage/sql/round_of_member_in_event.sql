SELECT id FROM rounds
WHERE league_id = $1 AND event_id = $2 AND member_id = $3 AND state <> 'withdrawn'
