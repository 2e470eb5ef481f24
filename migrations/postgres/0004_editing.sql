-- Records that are made, changed and removed one by one.
--
-- A removed record has no row any more. Its last revision is in `past`, and after it one more, whose record is the JSON
-- null: the removal, by whom and when. What is made again under the same label goes on counting from there.

CREATE INDEX past_removed ON past (site, kind, surface, label, revision) WHERE record::text = 'null';

CREATE FUNCTION member_is_removed_with_its_past() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF 2 <> (
        SELECT count(*) FROM stridebed.past
        WHERE site = OLD.site AND kind = TG_ARGV[0] AND surface = OLD.surface AND label = OLD.label
          AND (revision = OLD.revision OR (revision = OLD.revision + 1 AND record::text = 'null')))
    THEN
        RAISE EXCEPTION '% % would be lost', TG_ARGV[0], OLD.label USING ERRCODE = '23000';
    END IF;
    RETURN OLD;
END $$;

DROP TRIGGER is_not_deleted ON print;
DROP TRIGGER is_not_deleted ON extent;
DROP TRIGGER is_not_deleted ON trackway;
CREATE TRIGGER is_removed_with_its_past BEFORE DELETE ON print
    FOR EACH ROW EXECUTE FUNCTION member_is_removed_with_its_past('print');
CREATE TRIGGER is_removed_with_its_past BEFORE DELETE ON extent
    FOR EACH ROW EXECUTE FUNCTION member_is_removed_with_its_past('extent');
CREATE TRIGGER is_removed_with_its_past BEFORE DELETE ON trackway
    FOR EACH ROW EXECUTE FUNCTION member_is_removed_with_its_past('trackway');

-- What was made with an Idempotency-Key, so that who asks a second time is answered as the first time. Not part of the record.
CREATE TABLE made_once (
    author   text COLLATE "C" NOT NULL,
    key      text COLLATE "C" NOT NULL,
    digest   bytea NOT NULL,            -- SHA-256 of what was asked
    id       text NOT NULL,             -- the id of what was made
    revision bigint NOT NULL,
    at       text COLLATE "C" NOT NULL,
    PRIMARY KEY (author, key)
);
