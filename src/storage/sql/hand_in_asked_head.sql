WITH asked (n, event_id, account_id, member_id, client_round_id, session_id, operation, key) AS (
