UPDATE finding_words SET text = 'erased' WHERE league_id = $1 AND member_id = $2
