DELETE FROM cards_in_play WHERE league_id = $1 AND member_id = $2
