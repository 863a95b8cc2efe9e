INSERT INTO rounds (
    league_id, id, event_id, member_id, setup_id, client_round_id, first_body_hash, played_on, outcome, state,
    declared_radius_ft, version, seq, received_at, version_seq, version_at, sent_by, proposed, late, putts_excluded
) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19, $20)
