WITH asked (n, season_id, account_id, session_id) AS ( VALUES)
SELECT a.n, s.shown, m.id IS NOT NULL AS is_member,
    NOT EXISTS (
        SELECT 1 FROM sessions o WHERE o.id = a.session_id AND o.account_id = a.account_id AND o.ended_at IS NULL
    ) AS is_signed_out
FROM asked a
LEFT JOIN seasons s ON s.id = a.season_id
LEFT JOIN members m ON m.league_id = s.league_id AND m.account_id = a.account_id
