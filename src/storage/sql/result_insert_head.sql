INSERT INTO results (league_id, member_id, round_id, event_id, card, putting, figures, stamp)
