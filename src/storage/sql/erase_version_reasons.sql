UPDATE versions SET reason = NULL
WHERE league_id = $1 AND reason IS NOT NULL AND (
    replaced_by = $2
    OR kind = 'round'
        AND id IN (SELECT id FROM rounds WHERE league_id = $1 AND member_id = $2)
)
