-- Ids are drawn at random: what has this one is found in one of these, the likeliest first.
SELECT id FROM leagues WHERE id = (
    SELECT league_id FROM events WHERE id = $1
    UNION ALL SELECT league_id FROM round_leagues WHERE round_id = $1
    UNION ALL SELECT id FROM leagues WHERE id = $1
    UNION ALL SELECT league_id FROM members WHERE id = $1
    UNION ALL SELECT league_id FROM seasons WHERE id = $1
    UNION ALL SELECT league_id FROM competitions WHERE id = $1
    UNION ALL SELECT league_id FROM season_facts WHERE id = $1
    UNION ALL SELECT league_id FROM findings WHERE id = $1
    UNION ALL SELECT league_id FROM entrants WHERE id = $1
    UNION ALL SELECT league_id FROM queries WHERE id = $1
    UNION ALL SELECT league_id FROM courses WHERE id = $1
    UNION ALL SELECT league_id FROM setups WHERE id = $1
    UNION ALL SELECT league_id FROM notices WHERE id = $1
    UNION ALL SELECT league_id FROM practice_blocks WHERE id = $1
    UNION ALL SELECT league_id FROM carried_differentials WHERE id = $1
    UNION ALL SELECT league_id FROM carried_results WHERE id = $1
    UNION ALL SELECT league_id FROM invitations WHERE id = $1
    UNION ALL SELECT league_id FROM secret_addresses WHERE id = $1
    LIMIT 1
)
FOR NO KEY UPDATE
