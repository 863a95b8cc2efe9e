UPDATE practice_blocks SET setup_id = $3, played_on = $4, stimp_ft = $5, version = version + 1
WHERE league_id = $1 AND id = $2
