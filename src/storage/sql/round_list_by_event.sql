SELECT league_id, id, event_id, member_id, setup_id, client_round_id, first_body_hash, played_on, outcome, state,
    declared_radius_ft, version, seq, received_at, version_seq, version_at, sent_by, proposed, late,
    putts_excluded
FROM rounds WHERE league_id = $1 AND event_id = $4 AND id > $2 ORDER BY id LIMIT $3
