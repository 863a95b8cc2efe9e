SELECT league_id, id, account_id, role, display_name, division, starting_handicap, erased_at, version, seq, received_at FROM members WHERE league_id = $1 AND id > $2 ORDER BY id LIMIT $3
