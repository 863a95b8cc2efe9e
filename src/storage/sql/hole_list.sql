SELECT number, strokes, picked_up, not_played, putts_recorded, putt_count FROM holes
WHERE league_id = $1 AND round_id = $2
ORDER BY number
