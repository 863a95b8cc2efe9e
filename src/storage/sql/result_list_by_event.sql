SELECT o.round_id, o.event_id, o.member_id, e.season_id, o.card, o.putting, o.figures, r.state
FROM results o
JOIN events e ON e.league_id = o.league_id AND e.id = o.event_id
JOIN rounds r ON r.league_id = o.league_id AND r.id = o.round_id
WHERE o.league_id = $1 AND o.event_id = $2
ORDER BY o.member_id, o.round_id
