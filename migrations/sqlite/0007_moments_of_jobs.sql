-- A job can tell of the record as it was at a moment.
ALTER TABLE job ADD COLUMN as_of TEXT; -- the moment (RFC 3339); NULL is when the job is done
