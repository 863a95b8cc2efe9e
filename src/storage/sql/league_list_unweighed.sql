SELECT id
FROM leagues l
WHERE weighed_seq < seq AND EXISTS (
    SELECT 1 FROM rounds r
    WHERE r.league_id = l.id AND r.seq > l.weighed_seq AND r.state IN ('submitted', 'attested')
)
