SELECT f.league_id, f.id, f.season_id, f.kind, f.member_id, f.setup_id, f.restart, f.event_id, f.factor_log10,
    f.threshold_log10, f.seq, f.received_at
FROM finding_concerned c
JOIN findings f ON f.league_id = c.league_id AND f.id = c.finding_id
WHERE c.league_id = $1 AND c.member_id = $4 AND f.id > $2
ORDER BY f.id
LIMIT $3
