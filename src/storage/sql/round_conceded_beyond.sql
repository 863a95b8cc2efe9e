SELECT
    EXISTS (
        SELECT 1
        FROM events e
        JOIN rounds r ON r.league_id = e.league_id AND r.event_id = e.id
        JOIN putts p ON p.league_id = r.league_id AND p.round_id = r.id
        JOIN holes h ON h.league_id = p.league_id AND h.round_id = p.round_id AND h.number = p.hole
        WHERE e.league_id = $1 AND e.season_id = $2 AND p.result = 'conceded' AND p.distance_ft > $3 AND h.picked_up = FALSE
    ) AS is_conceded_beyond
