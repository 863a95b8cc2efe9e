UPDATE server_secrets SET secret = $2 WHERE name = $1
