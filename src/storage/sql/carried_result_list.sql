SELECT id, season_id, member_id, team_id, competition_id, label, value, source, seq, received_at FROM carried_results
WHERE league_id = $1
ORDER BY seq
