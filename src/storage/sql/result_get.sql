SELECT figures, putting FROM results WHERE round_id = $1
