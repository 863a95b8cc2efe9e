SELECT o.member_id, o.event_id, o.round_id, p.hole, p.distance_ft, p.result, r.declared_radius_ft
FROM events e
JOIN results o ON o.league_id = e.league_id AND o.event_id = e.id AND o.figures IS NOT NULL
JOIN rounds r ON r.league_id = o.league_id AND r.id = o.round_id AND r.putts_excluded = FALSE
LEFT JOIN putts p ON p.league_id = o.league_id AND p.round_id = o.round_id
WHERE e.league_id = $1 AND e.season_id = $2 AND r.state = 'attested'
ORDER BY o.member_id, o.round_id, p.hole, p.number
