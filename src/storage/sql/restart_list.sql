SELECT f.kind, f.member_id, f.setup_id, r.seq
FROM findings f
JOIN rulings r ON r.league_id = f.league_id AND r.finding_id = f.id AND r.decision = 'no_action'
WHERE f.league_id = $1 AND f.season_id = $2
ORDER BY r.seq
