SELECT setup_id, updated_at, body FROM file_columns WHERE league_id = $1 AND member_id = $2 AND setup_id = $3
