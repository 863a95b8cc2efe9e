SELECT league_id, id, member_id, setup_id, played_on, stimp_ft, received_at, version FROM practice_blocks
WHERE league_id = $1 AND member_id = $2 AND id > $3
ORDER BY id LIMIT $4
