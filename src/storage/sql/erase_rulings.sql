UPDATE rulings SET reason = 'erased'
WHERE league_id = $1 AND (
    member_id = $2
    OR id IN (
        SELECT ruling_id FROM ruled_rounds
        WHERE league_id = $1
            AND round_id IN (SELECT id FROM rounds WHERE league_id = $1 AND member_id = $2)
    )
    OR finding_id IN (
        SELECT id FROM findings
        WHERE league_id = $1
            AND (member_id = $2 OR setup_id IN (SELECT id FROM setups WHERE league_id = $1 AND member_id = $2))
    )
)
