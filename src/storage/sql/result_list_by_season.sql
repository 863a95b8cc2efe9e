SELECT o.round_id, o.event_id, o.member_id, e.season_id, o.card, o.putting, o.figures, o.stamp
FROM events e
JOIN results o ON o.league_id = e.league_id AND o.event_id = e.id AND o.stamp IS NOT NULL
WHERE e.league_id = $1 AND e.season_id = $2
ORDER BY o.member_id, o.round_id
