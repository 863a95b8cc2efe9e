SELECT o.round_id, o.event_id, o.member_id, o.card, o.putting, o.figures, r.setup_id, r.state, r.played_on
FROM results o
JOIN rounds r ON r.league_id = o.league_id AND r.id = o.round_id
WHERE o.league_id = $1 AND o.member_id = $2
ORDER BY o.round_id
