SELECT e.shown
FROM events e
JOIN members m ON m.league_id = e.league_id AND m.account_id = $2
WHERE e.id = $1
