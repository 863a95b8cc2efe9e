UPDATE leagues SET seq = seq + 1 WHERE id = $1 RETURNING seq
