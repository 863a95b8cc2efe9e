DELETE FROM idempotency_keys WHERE created_at < $1
