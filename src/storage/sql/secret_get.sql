SELECT secret FROM server_secrets WHERE name = $1
