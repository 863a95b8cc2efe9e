WITH asked (of_league, of_member) AS ( VALUES)
SELECT o.round_id, o.event_id, o.member_id, e.season_id, o.card, o.putting, o.figures, o.stamp,
    r.setup_id, r.state, r.played_on
FROM asked
JOIN results o ON o.league_id = of_league AND o.member_id = of_member
JOIN rounds r ON r.league_id = o.league_id AND r.id = o.round_id
JOIN events e ON e.league_id = o.league_id AND e.id = o.event_id
ORDER BY o.member_id, o.round_id
