INSERT INTO lasting_acts (id, body) VALUES ($1, $2)
