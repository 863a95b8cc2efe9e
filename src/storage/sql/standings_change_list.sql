SELECT id, at, member_id, act, kind, thing_id, reason, moves FROM standings_changes
WHERE league_id = $1 AND season_id = $2 AND id > $3
ORDER BY id
LIMIT $4
