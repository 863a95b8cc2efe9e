INSERT INTO idempotency_keys (account_id, operation, key, body_hash, status, reply, etag, location, created_at)
