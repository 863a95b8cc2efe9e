-- Holes and putts lie in the partition of the same number as their round. Each references its neighbour there, which is
-- found without a look at the other fifteen.

ALTER TABLE putts DROP CONSTRAINT putts_league_id_round_id_hole_fkey;
ALTER TABLE holes DROP CONSTRAINT holes_league_id_round_id_fkey;
DO $$
BEGIN
    FOR n IN 0..15 LOOP
        EXECUTE format(
            'ALTER TABLE holes_%s ADD FOREIGN KEY (league_id, round_id) REFERENCES rounds_%s (league_id, id)', n, n);
        EXECUTE format(
            'ALTER TABLE putts_%s ADD FOREIGN KEY (league_id, round_id, hole) '
            'REFERENCES holes_%s (league_id, round_id, number)', n, n);
    END LOOP;
END $$;
