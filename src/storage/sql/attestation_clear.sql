DELETE FROM attestations WHERE league_id = $1 AND round_id = $2
