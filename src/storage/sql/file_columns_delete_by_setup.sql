DELETE FROM file_columns WHERE league_id = $1 AND setup_id = $2
