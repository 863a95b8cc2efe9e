DELETE FROM practice_blocks WHERE league_id = $1 AND member_id = $2
