SELECT league_id, id, season_id, kind, member_id, setup_id, restart, event_id, factor_log10, threshold_log10, seq, received_at FROM findings WHERE id = $1
