SELECT EXISTS (
    SELECT 1 FROM rounds WHERE league_id = $1 AND event_id = $2 AND member_id = $3 AND state <> 'withdrawn'
) AS is_in_event
