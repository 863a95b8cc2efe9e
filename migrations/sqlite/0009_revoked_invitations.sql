-- An invitation has an id beside its code, which is not kept, so that it can be listed and revoked.

ALTER TABLE invitations ADD COLUMN id BLOB;
ALTER TABLE invitations ADD COLUMN revoked_at TEXT;
UPDATE invitations SET id = randomblob(16);
CREATE UNIQUE INDEX invitations_by_id ON invitations (id);
CREATE INDEX invitations_by_league ON invitations (league_id, id);
