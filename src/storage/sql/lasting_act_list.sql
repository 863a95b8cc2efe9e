SELECT body FROM lasting_acts ORDER BY id
