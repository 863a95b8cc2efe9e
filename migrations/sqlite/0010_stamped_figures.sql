-- Figures carry a stamp that changes whenever they do, so that whoever remembers them reads only what moved.

ALTER TABLE results ADD COLUMN stamp INTEGER;
UPDATE results SET stamp = random() WHERE figures IS NOT NULL;
DROP INDEX results_by_event;
CREATE INDEX results_by_event ON results (league_id, event_id, stamp);
