SELECT league_id, id, account_id, role, display_name, flight, starting_handicap, guest, earlier_starts, erased_at, version, seq, received_at FROM members WHERE id = $1
