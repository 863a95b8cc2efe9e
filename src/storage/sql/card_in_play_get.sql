SELECT member_id, version, updated_at, body FROM cards_in_play WHERE league_id = $1 AND event_id = $2 AND member_id = $3
