SELECT o.round_id, o.event_id, o.member_id, e.season_id, o.card, o.putting, o.figures, o.stamp
FROM results o
JOIN events e ON e.league_id = o.league_id AND e.id = o.event_id
WHERE o.league_id = $1 AND o.member_id = $2 AND o.round_id = $3
