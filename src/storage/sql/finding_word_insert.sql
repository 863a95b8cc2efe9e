INSERT INTO finding_words (league_id, id, finding_id, kind, member_id, text, due_at, seq, received_at, opinion)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
