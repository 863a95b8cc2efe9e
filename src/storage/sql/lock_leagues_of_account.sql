SELECT id FROM leagues
WHERE id IN (SELECT league_id FROM members WHERE account_id = $1)
ORDER BY id
FOR NO KEY UPDATE
