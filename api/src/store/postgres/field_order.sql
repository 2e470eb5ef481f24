-- The prints of a surface that the field party saw in trackways, trackway by trackway in walking order:
-- by their place in it; of one place the pes before the manus; those without a place last; then by label.
DECLARE members NO SCROLL CURSOR FOR
SELECT field_trackway, label, field_order, limb, sheet_row, change
FROM print
WHERE site = {site} AND surface = {surface} AND field_trackway IS NOT NULL
ORDER BY field_trackway,
         field_order NULLS LAST,
         CASE limb WHEN 'pes' THEN 0 WHEN 'manus' THEN 1 ELSE 2 END,
         label
