-- The leagues that nobody can organize: no organizer has an account. With each its organizers' records, if it has any.
SELECT leagues.id AS league_id, leagues.name, members.id AS member_id
FROM leagues
LEFT JOIN members ON members.league_id = leagues.id AND members.role = 'organizer'
WHERE NOT EXISTS (
    SELECT 1 FROM members AS claimed
    WHERE claimed.league_id = leagues.id AND claimed.role = 'organizer' AND claimed.account_id IS NOT NULL
)
ORDER BY leagues.id, members.id
