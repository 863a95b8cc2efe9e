-- What is said of a finding now includes an organizer's first opinion, noted before names are shown.

ALTER TABLE finding_words DROP CONSTRAINT finding_words_kind_check;
ALTER TABLE finding_words ADD CONSTRAINT finding_words_kind_check
    CHECK (kind IN ('statement', 'request', 'recusal', 'first_opinion'));
ALTER TABLE finding_words ADD COLUMN opinion TEXT COLLATE "C"
    CHECK (opinion IN ('unfair_cause', 'honest_cause', 'cannot_say'));
ALTER TABLE finding_words ADD CONSTRAINT finding_words_opinion_of_its_kind
    CHECK ((opinion IS NULL) = (kind <> 'first_opinion'));
