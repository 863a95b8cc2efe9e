SELECT count(*) AS unseen
FROM (
    SELECT id, seen_at
    FROM (
        SELECT n.id, n.seen_at
        FROM members m
        JOIN notices n ON n.league_id = m.league_id AND n.member_id = m.id
        WHERE m.account_id = $1
        UNION ALL
        SELECT a.id, a.seen_at FROM account_notices a WHERE a.account_id = $1
    ) told
    ORDER BY id DESC
    LIMIT $2
) newest
WHERE seen_at IS NULL
