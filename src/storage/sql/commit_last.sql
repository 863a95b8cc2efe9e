SELECT database_id, n FROM commits
