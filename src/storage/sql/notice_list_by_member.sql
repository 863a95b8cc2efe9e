SELECT league_id, id, member_id, kind, round_id, query_id, finding_id, event_id, CAST(NULL AS TEXT) AS device, at, seen_at
FROM notices
WHERE league_id = $1 AND member_id = $2
ORDER BY id
