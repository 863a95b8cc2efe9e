UPDATE members
SET role = $3, display_name = $4, flight = $5, starting_handicap = $6, guest = $7, earlier_starts = $8, version = version + 1
WHERE league_id = $1 AND id = $2
