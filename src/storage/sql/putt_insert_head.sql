INSERT INTO putts (
    league_id, round_id, hole, number, distance_ft, elevation_in, ball_speed_mph, start_line_deg, played_line_deg, result
)
