SELECT head FROM journal_heads
JOIN events ON events.league_id = journal_heads.league_id AND events.id = journal_heads.event_id
WHERE events.league_id = $1 AND events.season_id = $2
ORDER BY n DESC LIMIT 1
