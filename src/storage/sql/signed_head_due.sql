SELECT id, journal_n, journal_hash FROM leagues
LEFT JOIN (SELECT league_id, max(n) AS n, max(at) AS at FROM journal_heads GROUP BY league_id) AS signed
    ON signed.league_id = leagues.id
WHERE journal_n > coalesce(signed.n, 0) AND (journal_n >= coalesce(signed.n, 0) + 100 OR signed.at IS NULL OR signed.at <= $1)
