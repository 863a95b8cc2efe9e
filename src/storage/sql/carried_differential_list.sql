SELECT id, member_id, played_on, differential, source, seq, received_at FROM carried_differentials
WHERE league_id = $1
ORDER BY seq
