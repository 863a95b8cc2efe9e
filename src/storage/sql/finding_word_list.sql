SELECT id, finding_id, kind, member_id, text, due_at, seq, received_at, opinion FROM finding_words
WHERE league_id = $1 AND finding_id = $2
ORDER BY seq
