-- What is about a person beside the record: the rounds, the queries on them and by the person, and the findings about the
-- person or the person's set-ups.
SELECT id FROM rounds WHERE league_id = $1 AND member_id = $2
UNION ALL
SELECT id FROM queries
WHERE league_id = $1
    AND (member_id = $2 OR round_id IN (SELECT id FROM rounds WHERE league_id = $1 AND member_id = $2))
UNION ALL
SELECT id FROM findings
WHERE league_id = $1
    AND (member_id = $2 OR setup_id IN (SELECT id FROM setups WHERE league_id = $1 AND member_id = $2))
