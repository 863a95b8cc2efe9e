UPDATE notices SET seen_at = $3 WHERE league_id = $1 AND id = $2 AND seen_at IS NULL
