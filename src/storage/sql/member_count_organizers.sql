SELECT count(*) AS organizers FROM members WHERE league_id = $1 AND role = 'organizer'
