INSERT INTO ruled_rounds (league_id, ruling_id, round_id, replaced_version) VALUES ($1, $2, $3, $4)
