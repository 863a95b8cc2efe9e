UPDATE account_notices SET seen_at = $2 WHERE id = $1 AND seen_at IS NULL
