-- Adds the prints of the sheet that site $1 does not have, and tells what they do to each surface.
WITH added AS (
    INSERT INTO print
    SELECT given.* FROM pg_temp.given
    WHERE NOT EXISTS (
        SELECT 1 FROM print AS stood
        WHERE stood.site = $1 AND stood.surface = given.surface AND stood.label = given.label)
    RETURNING surface, easting_m, northing_m, field_trackway, overlies
)
SELECT surface, count(*), min(easting_m), min(northing_m), max(easting_m), max(northing_m),
       bool_or(field_trackway IS NOT NULL), bool_or(overlies IS NOT NULL)
FROM added
GROUP BY surface
