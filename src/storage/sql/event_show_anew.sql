WITH moved (of_league, of_event) AS ( VALUES)
UPDATE events SET shown = shown + 1 FROM moved WHERE league_id = of_league AND id = of_event
