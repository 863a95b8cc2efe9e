SELECT p.round_id, p.hole, p.distance_ft, p.elevation_in, p.ball_speed_mph, p.start_line_deg, p.played_line_deg, p.result,
    r.declared_radius_ft
FROM results o
JOIN events e ON e.league_id = o.league_id AND e.id = o.event_id AND e.season_id = coalesce($3, e.season_id)
JOIN rounds r ON r.league_id = o.league_id AND r.id = o.round_id AND r.putts_excluded = FALSE
JOIN putts p ON p.league_id = o.league_id AND p.round_id = o.round_id
WHERE o.league_id = $1 AND o.member_id = $2 AND o.figures IS NOT NULL
ORDER BY p.round_id, p.hole, p.number
