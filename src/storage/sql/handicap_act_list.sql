SELECT id, member_id, decided, reason, seq, received_at FROM handicap_acts
WHERE league_id = $1
ORDER BY seq
