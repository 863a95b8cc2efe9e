-- The mark of a member's rounds is read from their stamps alone.

CREATE INDEX results_by_member ON results (league_id, member_id, stamp);
