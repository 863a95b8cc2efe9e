SELECT 'acceptance' AS what, NULL AS decision, seq
FROM acceptances WHERE league_id = $1 AND round_id = $2
UNION ALL
SELECT 'attestation', NULL, seq
FROM attestations WHERE league_id = $1 AND round_id = $2
UNION ALL
SELECT 'ruling', r.decision, r.seq
FROM ruled_rounds t
JOIN rulings r ON r.league_id = t.league_id AND r.id = t.ruling_id
WHERE t.league_id = $1 AND t.round_id = $2
UNION ALL
SELECT 'withdrawal', NULL, seq
FROM withdrawals WHERE league_id = $1 AND round_id = $2
ORDER BY seq
