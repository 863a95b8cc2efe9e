UPDATE commits SET n = n + 1 RETURNING n
