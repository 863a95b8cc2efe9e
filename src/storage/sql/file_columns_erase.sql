DELETE FROM file_columns WHERE league_id = $1 AND member_id = $2
