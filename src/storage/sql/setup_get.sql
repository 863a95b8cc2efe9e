SELECT league_id, id, member_id AS parent_id, version, seq, received_at, body FROM setups WHERE id = $1
