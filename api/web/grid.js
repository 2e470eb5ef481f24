// A surface's CRS. Inside the page a place is [easting, northing]; some authorities write the northing first, and so does the service.

export class Grid {
  constructor(crs, northingFirst) {
    Object.assign(this, { crs, northingFirst });
  }

  /** The text of a place, from the one order of its two numbers to the other where the CRS has the northing first. */
  turned(text) {
    return this.northingFirst && text ? text.split(",").reverse().join() : text;
  }

  /** The text of a box [west, south, east, north] in the order of the CRS's axes. */
  box([w, s, e, n]) {
    return (this.northingFirst ? [s, w, n, e] : [w, s, e, n]).join();
  }

  /** Features as the service gave them in this CRS, with eastings first. */
  eastFirst(features) {
    const drawn = (feature) => (feature.geometry ? { ...feature, geometry: turned(feature.geometry) } : feature);
    return this.northingFirst ? features.map(drawn) : features;
  }
}

function turned(geometry) {
  if (geometry.geometries) return { ...geometry, geometries: geometry.geometries.map(turned) };
  const swap = (it) => (typeof it[0] === "number" ? [it[1], it[0], ...it.slice(2)] : it.map(swap));
  return { ...geometry, coordinates: swap(geometry.coordinates) };
}
