SELECT id FROM leagues
WHERE id = (SELECT league_id FROM invitations WHERE code_hash = $1)
FOR NO KEY UPDATE
