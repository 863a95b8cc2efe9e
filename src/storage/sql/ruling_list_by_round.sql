SELECT r.id, r.member_id, r.finding_id, r.decision, r.reason, r.seq, r.received_at, t.round_id, t.replaced_version
FROM ruled_rounds t
JOIN rulings r ON r.league_id = t.league_id AND r.id = t.ruling_id
WHERE t.league_id = $1 AND t.round_id = $2
ORDER BY r.seq
