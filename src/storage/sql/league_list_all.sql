SELECT id, name, time_zone, seq, book_mark, version, created_seq, received_at FROM leagues ORDER BY id
