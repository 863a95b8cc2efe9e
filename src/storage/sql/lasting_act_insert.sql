INSERT INTO lasting_acts (id) VALUES ($1)
