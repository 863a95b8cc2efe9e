-- Answers to rounds are kept without what was said in them.
SELECT account_id, operation, key, reply FROM idempotency_keys WHERE substr(reply, 1, 1) <> '@'
