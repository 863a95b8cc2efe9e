SELECT count(*) AS unseen
FROM (
    SELECT n.seen_at
    FROM members m
    JOIN notices n ON n.league_id = m.league_id AND n.member_id = m.id
    WHERE m.account_id = $1
    ORDER BY n.id DESC
    LIMIT $2
) newest
WHERE seen_at IS NULL
