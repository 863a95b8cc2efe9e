DELETE FROM season_facts WHERE league_id = $1 AND id = $2
