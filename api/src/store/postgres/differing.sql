-- Stored prints of a site beside those of the sheet that may differ from them. Whether they do, the program's own
-- comparison tells: these are at least those that do.
DECLARE differing NO SCROLL CURSOR FOR
SELECT {stored}, {given}, stood.surface, stood.change
FROM pg_temp.given
JOIN print AS stood ON stood.surface = given.surface AND stood.label = given.label
WHERE stood.site = {site}
  AND (stood.easting_m, stood.northing_m, stood.elevation_m, stood.position_sd_m, stood.length_m, stood.width_m,
       stood.depth_m, stood.azimuth_deg, stood.azimuth_sd_deg, stood.side, stood.limb, stood.record, stood.digits,
       stood.preservation, stood.morphotype, stood.field_trackway, stood.field_order, stood.observed_on,
       stood.observer, stood.remarks::text, stood.overlies)
      IS DISTINCT FROM
      (given.easting_m, given.northing_m, given.elevation_m, given.position_sd_m, given.length_m, given.width_m,
       given.depth_m, given.azimuth_deg, given.azimuth_sd_deg, given.side, given.limb, given.record, given.digits,
       given.preservation, given.morphotype, given.field_trackway, given.field_order, given.observed_on,
       given.observer, given.remarks::text, given.overlies)
