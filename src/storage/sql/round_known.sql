SELECT
    EXISTS (SELECT 1 FROM rounds WHERE league_id = $1 AND member_id = $2 AND client_round_id = $3) AS was_sent,
    EXISTS (
        SELECT 1 FROM rounds WHERE league_id = $1 AND event_id = $4 AND member_id = $2 AND state <> 'withdrawn'
    ) AS is_in_event
