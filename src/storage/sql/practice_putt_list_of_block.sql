SELECT block_id, distance_ft, elevation_in, ball_speed_mph, start_line_deg, played_line_deg, result, leave_ft
FROM practice_putts WHERE league_id = $1 AND block_id = $2
ORDER BY number
