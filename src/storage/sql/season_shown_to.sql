SELECT s.shown
FROM seasons s
JOIN members m ON m.league_id = s.league_id AND m.account_id = $2
WHERE s.id = $1
