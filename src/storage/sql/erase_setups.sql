UPDATE setups
SET body = json_set(body, '$.label', 'A former player''s set-up', '$.notes', '')
WHERE league_id = $1 AND member_id = $2 AND json_extract(body, '$.shared') = 0
