SELECT n.league_id, n.id, n.member_id, n.kind, n.round_id, n.query_id, n.finding_id, n.at, n.seen_at
FROM notices n
JOIN members m ON m.league_id = n.league_id AND m.id = n.member_id
WHERE n.id = $1 AND m.account_id = $2
