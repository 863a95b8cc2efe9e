DELETE FROM versions
WHERE league_id = $1 AND kind = 'setup' AND id IN (SELECT id FROM setups WHERE league_id = $1 AND member_id = $2)
