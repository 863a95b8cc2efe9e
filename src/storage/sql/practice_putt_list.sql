SELECT block_id, distance_ft, elevation_in, ball_speed_mph, start_line_deg, played_line_deg, result, leave_ft
FROM practice_putts
WHERE league_id = $1 AND block_id IN (
    SELECT id FROM practice_blocks WHERE league_id = $1 AND member_id = $2 AND id > $3 ORDER BY id LIMIT $4
)
ORDER BY block_id, number
