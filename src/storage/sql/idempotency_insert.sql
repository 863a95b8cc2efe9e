INSERT INTO idempotency_keys (account_id, operation, key, body_hash, status, reply, etag, location, created_at)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)
