DELETE FROM idempotency_keys WHERE instr(reply, $1) > 0
