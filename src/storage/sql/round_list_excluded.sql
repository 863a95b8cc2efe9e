SELECT r.event_id, r.member_id
FROM events e
JOIN rounds r ON r.league_id = e.league_id AND r.event_id = e.id
WHERE e.league_id = $1 AND e.season_id = $2 AND r.state = 'excluded'
