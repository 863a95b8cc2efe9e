-- An invitation has an id beside its code, which is not kept, so that it can be listed and revoked.

ALTER TABLE invitations ADD COLUMN id UUID;
ALTER TABLE invitations ADD COLUMN revoked_at TEXT COLLATE "C";
UPDATE invitations SET id = gen_random_uuid();
CREATE UNIQUE INDEX invitations_by_id ON invitations (id);
CREATE INDEX invitations_by_league ON invitations (league_id, id);
