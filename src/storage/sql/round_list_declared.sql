SELECT r.league_id, r.id, r.event_id, r.member_id, r.setup_id, r.client_round_id, r.first_body_hash, r.played_on, r.outcome,
    r.state, r.declared_radius_ft, r.version, r.seq, r.received_at, r.version_seq, r.version_at, r.sent_by, r.proposed,
    r.late, r.putts_excluded
FROM events e
JOIN rounds r ON r.league_id = e.league_id AND r.event_id = e.id
WHERE e.league_id = $1 AND e.season_id = $2 AND r.declared_radius_ft IS NOT NULL
