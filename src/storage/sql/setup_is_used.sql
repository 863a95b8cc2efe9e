SELECT
    EXISTS (SELECT 1 FROM rounds WHERE league_id = $1 AND setup_id = $2)
    OR EXISTS (SELECT 1 FROM evidence_field WHERE league_id = $1 AND about = 'setup' AND id = $2)
    OR EXISTS (SELECT 1 FROM findings WHERE league_id = $1 AND setup_id = $2)
    OR EXISTS (SELECT 1 FROM practice_blocks WHERE league_id = $1 AND setup_id = $2)
    AS is_used
