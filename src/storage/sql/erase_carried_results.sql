UPDATE carried_results SET label = 'erased', source = 'erased' WHERE league_id = $1 AND member_id = $2
