SELECT
    count(*) AS rounds,
    count(CASE WHEN state IN ('proposed', 'late') THEN 1 END) AS waiting,
    count(CASE WHEN state IN ('submitted', 'attested') THEN 1 END) AS counting
FROM rounds
WHERE league_id = $1 AND event_id = $2
