WITH moved (league_id, last_seq, n, hash) AS ( VALUES)
UPDATE leagues SET seq = last_seq, journal_n = n, journal_hash = hash FROM moved WHERE id = league_id
