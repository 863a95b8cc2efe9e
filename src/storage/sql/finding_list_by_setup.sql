SELECT league_id, id, season_id, kind, member_id, setup_id, restart, event_id, factor_log10, threshold_log10, seq, received_at
FROM findings
WHERE league_id = $1 AND season_id = $2 AND setup_id = $3
