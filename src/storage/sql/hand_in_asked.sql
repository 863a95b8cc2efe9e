WITH asked (n, event_id, account_id, member_id, client_round_id, session_id, operation, key) AS ( VALUES)
SELECT a.n, e.league_id, l.book_mark, l.seq, l.journal_n, l.journal_hash, m.id AS member_id, m.role,
    EXISTS (
        SELECT 1 FROM idempotency_keys i
        WHERE i.account_id = a.account_id AND i.operation = a.operation AND i.key = a.key
    ) AS is_kept,
    EXISTS (
        SELECT 1 FROM rounds r
        WHERE r.league_id = e.league_id AND r.member_id = a.member_id AND r.client_round_id = a.client_round_id
    ) AS was_sent,
    (
        SELECT r.id FROM rounds r
        WHERE r.league_id = e.league_id AND r.event_id = e.id AND r.member_id = a.member_id AND r.state <> 'withdrawn'
    ) AS in_event_id,
    (
        SELECT r.state FROM rounds r
        WHERE r.league_id = e.league_id AND r.event_id = e.id AND r.member_id = a.member_id AND r.state <> 'withdrawn'
    ) AS in_event_state,
    EXISTS (
        SELECT 1 FROM cards_in_play c
        WHERE c.league_id = e.league_id AND c.event_id = e.id AND c.member_id = a.member_id
    ) AS is_in_play,
    (
        SELECT CAST(COUNT(*) + COALESCE(SUM(o.stamp / 65536), 0) AS BIGINT) FROM results o
        WHERE o.league_id = e.league_id AND o.member_id = a.member_id
    ) AS rounds_mark,
    NOT EXISTS (
        SELECT 1 FROM sessions s WHERE s.id = a.session_id AND s.account_id = a.account_id AND s.ended_at IS NULL
    ) AS is_signed_out
FROM asked a
LEFT JOIN events e ON e.id = a.event_id
LEFT JOIN leagues l ON l.id = e.league_id
LEFT JOIN members m ON m.league_id = e.league_id AND m.account_id = a.account_id
