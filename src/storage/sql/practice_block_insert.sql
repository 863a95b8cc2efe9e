INSERT INTO practice_blocks (league_id, id, member_id, setup_id, played_on, stimp_ft, received_at)
VALUES ($1, $2, $3, $4, $5, $6, $7)
