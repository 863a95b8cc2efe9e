SELECT hash, session_id, spent_at, successor_hash, sealed_successor FROM refresh_tokens WHERE hash = $1
