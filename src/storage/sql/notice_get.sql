SELECT n.league_id, n.id, n.member_id, n.kind, n.round_id, n.query_id, n.finding_id, n.event_id, CAST(NULL AS TEXT) AS device,
    n.at, n.seen_at
FROM notices n
JOIN members m ON m.league_id = n.league_id AND m.id = n.member_id
WHERE n.id = $1 AND m.account_id = $2
UNION ALL
SELECT NULL, a.id, NULL, a.kind, NULL, NULL, NULL, NULL, a.device, a.at, a.seen_at
FROM account_notices a
WHERE a.id = $1 AND a.account_id = $2
