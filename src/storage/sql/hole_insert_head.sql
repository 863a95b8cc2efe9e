INSERT INTO holes (league_id, round_id, number, strokes, picked_up, not_played, putts_recorded, putt_count)
