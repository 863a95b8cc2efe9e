SELECT n.league_id, n.id, n.member_id, n.kind, n.round_id, n.query_id, n.finding_id, n.at, n.seen_at
FROM members m
JOIN notices n ON n.league_id = m.league_id AND n.member_id = m.id
WHERE m.account_id = $1 AND n.id < $2
ORDER BY n.id DESC
LIMIT $3
