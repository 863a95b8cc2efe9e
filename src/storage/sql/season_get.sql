SELECT league_id, id, NULL AS parent_id, version, seq, received_at, body FROM seasons WHERE id = $1
