-- Rows of evidence where nobody said what was putted on name the nil id, as they do on PostgreSQL.

UPDATE evidence_rows SET setup_id = zeroblob(16) WHERE setup_id = x'';
