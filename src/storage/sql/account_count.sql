SELECT count(*) AS accounts FROM accounts
