SELECT
    EXISTS (SELECT 1 FROM rounds WHERE league_id = $1 AND member_id = $2 AND client_round_id = $3) AS was_sent,
    (
        SELECT id FROM rounds WHERE league_id = $1 AND event_id = $4 AND member_id = $2 AND state <> 'withdrawn'
    ) AS in_event_id,
    (
        SELECT state FROM rounds WHERE league_id = $1 AND event_id = $4 AND member_id = $2 AND state <> 'withdrawn'
    ) AS in_event_state,
    EXISTS (
        SELECT 1 FROM cards_in_play WHERE league_id = $1 AND event_id = $4 AND member_id = $2
    ) AS is_in_play
