INSERT INTO secret_addresses (code_hash, id, league_id, kind, names, member_id, created_at)
VALUES ($1, $2, $3, $4, $5, $6, $7)
