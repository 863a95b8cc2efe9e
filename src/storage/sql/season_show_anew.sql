WITH moved (of_league, of_season) AS ( VALUES)
UPDATE seasons SET shown = shown + 1 FROM moved WHERE league_id = of_league AND id = of_season
