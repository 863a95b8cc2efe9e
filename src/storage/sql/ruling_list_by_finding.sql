SELECT r.id, r.member_id, r.finding_id, r.decision, r.reason, r.seq, r.received_at, t.round_id, t.replaced_version
FROM rulings r
LEFT JOIN ruled_rounds t ON t.league_id = r.league_id AND t.ruling_id = r.id
WHERE r.league_id = $1 AND r.finding_id = $2
ORDER BY r.seq, t.round_id
