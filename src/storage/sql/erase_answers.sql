UPDATE answers SET text = 'erased'
WHERE league_id = $1 AND (
    member_id = $2
    OR query_id IN (
        SELECT id FROM queries
        WHERE league_id = $1
            AND (member_id = $2 OR round_id IN (SELECT id FROM rounds WHERE league_id = $1 AND member_id = $2))
    )
)
