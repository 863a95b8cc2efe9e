UPDATE carried_differentials SET source = 'erased' WHERE league_id = $1 AND member_id = $2
