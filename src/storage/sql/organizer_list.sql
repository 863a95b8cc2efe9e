SELECT id FROM members WHERE league_id = $1 AND role = 'organizer' ORDER BY id
