DELETE FROM practice_putts WHERE league_id = $1 AND block_id = $2
