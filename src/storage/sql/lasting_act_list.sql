SELECT id FROM lasting_acts
