UPDATE results
SET card = $4, putting = $5, stamp = CASE WHEN figures IS NULL THEN NULL ELSE CAST($6 AS BIGINT) END
WHERE league_id = $1 AND member_id = $2 AND round_id = $3
