UPDATE versions SET reason = NULL WHERE league_id = $1 AND replaced_by = $2 AND reason IS NOT NULL
