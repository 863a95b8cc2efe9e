UPDATE handicap_acts SET reason = 'erased' WHERE league_id = $1 AND member_id = $2
