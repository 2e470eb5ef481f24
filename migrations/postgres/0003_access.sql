-- Who may do what, and who did or tried. Not part of the record: `store copy` leaves it behind, and it belongs to no
-- site, so that it stays on one machine where the record is spread over many.

CREATE TABLE token (
    number  bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY, -- the order in which they were issued
    id      text COLLATE "C" NOT NULL UNIQUE, -- its name in lists; opens nothing
    digest  bytea NOT NULL UNIQUE,      -- SHA-256 of the token, which stands nowhere
    holder  text NOT NULL,              -- who has it; stands beside each revision that he makes
    role    text COLLATE "C" NOT NULL CHECK (role IN ('reader', 'contributor', 'steward', 'admin')),
    sites   text NOT NULL,              -- JSON array of slugs; empty for all sites
    issued  text COLLATE "C" NOT NULL,  -- times are RFC 3339, UTC
    expires text COLLATE "C",
    revoked text COLLATE "C",
    used    text COLLATE "C"            -- the last time, to the minute
);

-- Writes, and accesses that were refused.
CREATE TABLE ledger (
    number  bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    at      text COLLATE "C" NOT NULL,
    who     text,
    address text,
    method  text NOT NULL,
    path    text NOT NULL,              -- without what is asked of it
    site    text COLLATE "C",           -- the site that it is about, where there is one
    status  integer NOT NULL
);

-- Anybody can cause refusals: only so many of them are kept.
CREATE INDEX ledger_refused ON ledger (number) WHERE status >= 400;

CREATE FUNCTION refuse_access_change() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE EXCEPTION 'the ledger is never rewritten, and a token is revoked, never deleted'; END $$;

CREATE TRIGGER token_is_not_deleted BEFORE DELETE ON token
FOR EACH ROW EXECUTE FUNCTION refuse_access_change();
CREATE TRIGGER ledger_stays BEFORE UPDATE ON ledger
FOR EACH ROW EXECUTE FUNCTION refuse_access_change();
CREATE TRIGGER ledger_is_not_deleted BEFORE DELETE ON ledger
FOR EACH ROW WHEN (OLD.status < 400) EXECUTE FUNCTION refuse_access_change();
