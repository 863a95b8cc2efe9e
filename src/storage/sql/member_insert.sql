INSERT INTO members (league_id, id, account_id, role, display_name, flight, starting_handicap, guest, earlier_starts, erased_at, version, seq, received_at)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13)
