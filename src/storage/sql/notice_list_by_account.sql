SELECT league_id, id, member_id, kind, round_id, query_id, finding_id, event_id, device, at, seen_at
FROM (
    SELECT n.league_id, n.id, n.member_id, n.kind, n.round_id, n.query_id, n.finding_id, n.event_id, CAST(NULL AS TEXT) AS device,
        n.at, n.seen_at
    FROM members m
    JOIN notices n ON n.league_id = m.league_id AND n.member_id = m.id
    WHERE m.account_id = $1 AND n.id < $2
    UNION ALL
    SELECT NULL, a.id, NULL, a.kind, NULL, NULL, NULL, NULL, a.device, a.at, a.seen_at
    FROM account_notices a
    WHERE a.account_id = $1 AND a.id < $2
) told
ORDER BY id DESC
LIMIT $3
