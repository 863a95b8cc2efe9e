UPDATE members SET account_id = $3, role = $4, version = version + 1
WHERE league_id = $1 AND id = $2 AND account_id IS NULL
