WITH wanted (league_id) AS ( VALUES)
SELECT id FROM leagues WHERE id IN (SELECT league_id FROM wanted) FOR NO KEY UPDATE SKIP LOCKED
