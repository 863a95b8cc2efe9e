SELECT seq, weighed_seq,
    EXISTS (
        SELECT 1 FROM rounds r
        WHERE r.league_id = $1 AND r.seq > leagues.weighed_seq AND r.state IN ('submitted', 'attested')
    ) AS waits
FROM leagues
WHERE id = $1
