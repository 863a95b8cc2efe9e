INSERT INTO rounds (
    league_id, id, event_id, member_id, setup_id, client_round_id, first_body_hash, played_on, outcome, state,
    declared_radius_ft, version, seq, received_at, version_seq, version_at, sent_by, proposed, late, putts_excluded
)
