-- Records that are made, changed and removed one by one.
--
-- A removed record has no row any more. Its last revision is in `past`, and after it one more, whose record is the JSON
-- null: the removal, by whom and when. What is made again under the same label goes on counting from there.

CREATE INDEX past_removed ON past (kind, surface, label, revision) WHERE record = 'null';

DROP TRIGGER print_is_not_deleted;
DROP TRIGGER extent_is_not_deleted;
DROP TRIGGER trackway_is_not_deleted;

CREATE TRIGGER print_is_removed_with_its_past BEFORE DELETE ON print
WHEN 2 <> (
    SELECT count(*) FROM past
    WHERE kind = 'print' AND surface = OLD.surface AND label = OLD.label
      AND (revision = OLD.revision OR (revision = OLD.revision + 1 AND record = 'null')))
BEGIN SELECT raise(ABORT, 'a print would be lost'); END;

CREATE TRIGGER extent_is_removed_with_its_past BEFORE DELETE ON extent
WHEN 2 <> (
    SELECT count(*) FROM past
    WHERE kind = 'extent' AND surface = OLD.surface AND label = OLD.label
      AND (revision = OLD.revision OR (revision = OLD.revision + 1 AND record = 'null')))
BEGIN SELECT raise(ABORT, 'an extent would be lost'); END;

CREATE TRIGGER trackway_is_removed_with_its_past BEFORE DELETE ON trackway
WHEN 2 <> (
    SELECT count(*) FROM past
    WHERE kind = 'trackway' AND surface = OLD.surface AND label = OLD.label
      AND (revision = OLD.revision OR (revision = OLD.revision + 1 AND record = 'null')))
BEGIN SELECT raise(ABORT, 'a trackway would be lost'); END;

-- What was made with an Idempotency-Key, so that who asks a second time is answered as the first time. Not part of the record.
CREATE TABLE made_once (
    author   TEXT NOT NULL,
    key      TEXT NOT NULL,
    digest   BLOB NOT NULL,             -- SHA-256 of what was asked
    id       TEXT NOT NULL,             -- the id of what was made
    revision INTEGER NOT NULL,
    at       TEXT NOT NULL,
    PRIMARY KEY (author, key)
) STRICT, WITHOUT ROWID;
