SELECT league_id, id, member_id, setup_id, played_on, stimp_ft, received_at, version FROM practice_blocks WHERE id = $1
