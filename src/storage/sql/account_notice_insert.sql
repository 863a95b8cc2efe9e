INSERT INTO account_notices (id, account_id, kind, device, at) VALUES ($1, $2, $3, $4, $5)
