DELETE FROM setups WHERE league_id = $1 AND id = $2
