SELECT id, league_id, kind, names, member_id, created_at, revoked_at
FROM secret_addresses
WHERE league_id = $1 AND id > $2 AND revoked_at IS NULL
ORDER BY id
LIMIT $3
