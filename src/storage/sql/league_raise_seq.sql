UPDATE leagues SET seq = $2 WHERE id = $1 AND seq < $2
