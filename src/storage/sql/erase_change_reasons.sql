UPDATE standings_changes SET reason = NULL
WHERE league_id = $1 AND reason IS NOT NULL AND (
    member_id = $2
    OR thing_id = $2
    OR thing_id IN (SELECT id FROM rounds WHERE league_id = $1 AND member_id = $2)
    OR thing_id IN (SELECT id FROM carried_differentials WHERE league_id = $1 AND member_id = $2)
    OR thing_id IN (SELECT id FROM carried_results WHERE league_id = $1 AND member_id = $2)
    OR thing_id IN (
        SELECT id FROM findings
        WHERE league_id = $1
            AND (member_id = $2 OR setup_id IN (SELECT id FROM setups WHERE league_id = $1 AND member_id = $2))
    )
)
