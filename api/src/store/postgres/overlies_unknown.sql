-- Prints that a sheet (change $3) added or changed on surface $2 of site $1 and that overlie one which is not there.
-- Prints that it left alone need no look: no print is ever deleted.
SELECT print.sheet_row, below.label
FROM print, unnest(print.overlies) WITH ORDINALITY AS below (label, place)
WHERE print.site = $1
  AND print.surface = $2
  AND print.change = $3
  AND NOT EXISTS (
      SELECT 1 FROM print AS other
      WHERE other.site = $1 AND other.surface = $2 AND other.label = below.label COLLATE "C")
ORDER BY print.sheet_row, below.place
