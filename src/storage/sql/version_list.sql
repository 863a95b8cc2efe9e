SELECT version, seq, received_at, replaced_by, reason, body FROM versions
WHERE league_id = $1 AND kind = $2 AND id = $3
ORDER BY version
