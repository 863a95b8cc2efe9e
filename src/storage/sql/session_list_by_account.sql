SELECT id, account_id, created_at, last_used_at, ended_at, device, is_browser
FROM sessions
WHERE account_id = $1 AND id < $2 AND ended_at IS NULL AND (
    (is_browser = TRUE AND created_at > $3 AND last_used_at > $4)
    OR (is_browser = FALSE AND created_at > $5 AND last_used_at > $6)
)
ORDER BY id DESC
LIMIT $7
