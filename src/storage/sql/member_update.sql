UPDATE members
SET role = $3, display_name = $4, flight = $5, starting_handicap = $6, earlier_starts = $7, version = version + 1
WHERE league_id = $1 AND id = $2
