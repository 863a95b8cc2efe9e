UPDATE members
SET account_id = NULL, role = 'player', display_name = $3, erased_at = $4, version = version + 1
WHERE league_id = $1 AND id = $2
