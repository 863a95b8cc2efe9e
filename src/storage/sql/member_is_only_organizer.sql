SELECT
    EXISTS (SELECT 1 FROM members WHERE league_id = $1 AND id = $2 AND role = 'organizer')
    AND NOT EXISTS (
        SELECT 1 FROM members WHERE league_id = $1 AND id <> $2 AND role = 'organizer' AND account_id IS NOT NULL
    ) AS is_only
