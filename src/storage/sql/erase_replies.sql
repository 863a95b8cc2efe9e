DELETE FROM idempotency_keys WHERE replace(reply, $1, '') <> reply
