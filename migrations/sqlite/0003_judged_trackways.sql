-- Who accepted or rejected a trackway; NULL where nobody has: a proposal, one that later proposals replaced, or one
-- that stands because the field party saw it. What somebody has judged, no program proposes again.
ALTER TABLE trackway ADD COLUMN judged_by TEXT;
