SELECT hole, distance_ft, elevation_in, ball_speed_mph, start_line_deg, played_line_deg, result FROM putts
WHERE league_id = $1 AND round_id = $2
ORDER BY hole, number
