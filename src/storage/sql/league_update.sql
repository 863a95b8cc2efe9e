UPDATE leagues SET name = $2, time_zone = $3, version = version + 1 WHERE id = $1
