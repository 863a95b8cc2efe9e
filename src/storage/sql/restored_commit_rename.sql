UPDATE commits SET database_id = randomblob(16)
