SELECT id, league_id, kind, names, member_id, created_at, revoked_at FROM secret_addresses WHERE code_hash = $1
