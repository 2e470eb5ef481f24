-- Who may do what, and who did or tried. Not part of the record: `store copy` leaves it behind.

CREATE TABLE token (
    number  INTEGER PRIMARY KEY AUTOINCREMENT, -- the order in which they were issued
    id      TEXT NOT NULL UNIQUE,       -- its name in lists; opens nothing
    digest  BLOB NOT NULL UNIQUE,       -- SHA-256 of the token, which stands nowhere
    holder  TEXT NOT NULL,              -- who has it; stands beside each revision that he makes
    role    TEXT NOT NULL CHECK (role IN ('reader', 'contributor', 'steward', 'admin')),
    sites   TEXT NOT NULL,              -- JSON array of slugs; empty for all sites
    issued  TEXT NOT NULL,              -- times are RFC 3339, UTC
    expires TEXT,
    revoked TEXT,
    used    TEXT                        -- the last time, to the minute
) STRICT;

CREATE TRIGGER token_is_not_deleted BEFORE DELETE ON token
BEGIN SELECT raise(ABORT, 'a token is revoked, never deleted'); END;

-- Writes, and accesses that were refused.
CREATE TABLE ledger (
    number  INTEGER PRIMARY KEY AUTOINCREMENT,
    at      TEXT NOT NULL,
    who     TEXT,
    address TEXT,
    method  TEXT NOT NULL,
    path    TEXT NOT NULL,              -- without what is asked of it
    site    TEXT,                       -- the site that it is about, where there is one
    status  INTEGER NOT NULL
) STRICT;

-- Anybody can cause refusals: only so many of them are kept.
CREATE INDEX ledger_refused ON ledger (number) WHERE status >= 400;

CREATE TRIGGER ledger_stays BEFORE UPDATE ON ledger
BEGIN SELECT raise(ABORT, 'the ledger is never rewritten'); END;
CREATE TRIGGER ledger_is_not_deleted BEFORE DELETE ON ledger WHEN OLD.status < 400
BEGIN SELECT raise(ABORT, 'a write in the ledger is never deleted'); END;
