-- The changes that made any revision of site ?1 or of what belongs to it, oldest first.
WITH of_site AS (SELECT id FROM surface WHERE site = ?1)
SELECT id, author, at, deed
FROM change
WHERE id IN (
    SELECT change FROM site WHERE slug = ?1
    UNION SELECT change FROM surface WHERE site = ?1
    UNION SELECT change FROM extent WHERE surface IN of_site
    UNION SELECT change FROM print WHERE surface IN of_site
    UNION SELECT change FROM trackway WHERE surface IN of_site
    UNION SELECT change FROM past WHERE kind = 'site' AND surface = 0 AND label = ?1
    UNION SELECT change FROM past
    WHERE kind IN ('surface', 'extent', 'print', 'trackway') AND surface IN of_site)
ORDER BY id
