DELETE FROM idempotency_keys WHERE substr(reply, 1, 37) = '@' || $1
