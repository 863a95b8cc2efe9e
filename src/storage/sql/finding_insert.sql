INSERT INTO findings (
    league_id, id, season_id, kind, member_id, setup_id, restart, event_id, factor_log10, threshold_log10, seq, received_at
) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12)
ON CONFLICT DO NOTHING
