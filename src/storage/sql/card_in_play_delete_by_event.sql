DELETE FROM cards_in_play WHERE league_id = $1 AND event_id = $2
