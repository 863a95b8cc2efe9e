UPDATE password_resets SET spent_at = $2 WHERE account_id = $1 AND spent_at IS NULL
