DELETE FROM account_notices
WHERE account_id = $1 AND id NOT IN (
    SELECT id FROM account_notices WHERE account_id = $1 ORDER BY id DESC LIMIT $2
)
