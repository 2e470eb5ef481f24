-- A site's local grid: the field party's own grid on the rock, and how it lies in the site's CRS.

-- JSON: the transformation, how well it fits and the control points that it came from; always read and written
-- whole. NULL where the site has no local grid, as have all sites of before.
ALTER TABLE site ADD COLUMN local_grid TEXT;
