-- Prints that a sheet (change ?2) added or changed on surface ?1 and that overlie one which is not there.
-- Prints that it left alone need no look: no print is ever deleted.
SELECT print.sheet_row, below.value
FROM print, json_each(print.remarks, '$.overlies') AS below
WHERE print.surface = ?1
  AND print.change = ?2
  AND print.remarks IS NOT NULL
  AND NOT EXISTS (SELECT 1 FROM print AS other WHERE other.surface = ?1 AND other.label = below.value)
