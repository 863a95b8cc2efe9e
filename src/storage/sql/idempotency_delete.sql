DELETE FROM idempotency_keys WHERE account_id = $1 AND operation = $2 AND key = $3
