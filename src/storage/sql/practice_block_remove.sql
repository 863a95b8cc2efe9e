DELETE FROM practice_blocks WHERE league_id = $1 AND id = $2
