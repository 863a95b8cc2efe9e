INSERT INTO reviewers (league_id, finding_id, account_id, since) VALUES ($1, $2, $3, $4) ON CONFLICT DO NOTHING
