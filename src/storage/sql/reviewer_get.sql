SELECT since FROM reviewers WHERE league_id = $1 AND finding_id = $2 AND account_id = $3
