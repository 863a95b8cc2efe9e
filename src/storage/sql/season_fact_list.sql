SELECT league_id, id, season_id, kind, of_id, event_id, version, seq, received_at, body
FROM season_facts
WHERE league_id = $1
ORDER BY seq, id
