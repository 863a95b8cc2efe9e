INSERT INTO practice_putts (league_id, block_id, number, distance_ft, elevation_in, ball_speed_mph, start_line_deg,
    played_line_deg, result, leave_ft)
