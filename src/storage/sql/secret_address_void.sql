UPDATE secret_addresses SET revoked_at = $3
WHERE league_id = $1 AND member_id = $2 AND kind = 'calendar' AND revoked_at IS NULL
