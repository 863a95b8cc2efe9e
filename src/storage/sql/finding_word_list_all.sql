SELECT id, finding_id, kind, member_id, text, due_at, seq, received_at, opinion FROM finding_words
WHERE league_id = $1
ORDER BY seq
