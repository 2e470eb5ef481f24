// What is laid over a plan: the features of an answer, each drawn by what it is (`part`).

const SVG = "http://www.w3.org/2000/svg";
/** More names than these would hide what they name. */
const MOST_NAMES = 60;
/** So many squares are numbered. */
const FIRST_RANKS = 9;
/** Half the size of the mark of a place; pixels. */
const HALF = 8;

/** Marks of places by part; a ring where there is none of its own. */
const MARKS = {
  predicted: (x, y) => `M${x - HALF} ${y}h${2 * HALF}M${x} ${y - HALF}v${2 * HALF}`,
  candidate: (x, y) => `M${x} ${y - HALF}l${HALF} ${HALF}l${-HALF} ${HALF}l${-HALF} ${-HALF}z`,
  focus: (x, y) => `${ring(x, y, HALF)}${ring(x, y, 2.5)}`,
};

function ring(x, y, radius) {
  return `M${x - radius} ${y}a${radius} ${radius} 0 1 0 ${2 * radius} 0a${radius} ${radius} 0 1 0 ${-2 * radius} 0z`;
}

/** An element of a picture. */
export function element(name, attributes) {
  const made = document.createElementNS(SVG, name);
  Object.entries(attributes).forEach(([attribute, value]) => made.setAttribute(attribute, value));
  return made;
}

/** The pictures of features; `place` gives the place on the page of an easting and northing. */
export function laid(features, chosen, place) {
  const drawn = features.filter((feature) => feature.geometry);
  const named = drawn.length <= MOST_NAMES;
  // The chosen one comes last: nothing hides it.
  const ordered = drawn.filter((feature) => feature !== chosen).concat(drawn.includes(chosen) ? [chosen] : []);
  return ordered.map((feature) => {
    const part = feature.properties.part ?? (feature.geometry.type === "LineString" ? "trackway" : "print");
    const group = element("g", { class: feature === chosen ? `${part} chosen` : part });
    for (const geometry of simple(feature.geometry)) group.append(...drawing(geometry, part, place));
    if (named) group.append(...names(feature, place));
    return group;
  });
}

/** The number of a place: how many prints on it is, or its rank. */
function names({ geometry: { type, coordinates }, properties }, place) {
  const middle = { Point: () => coordinates, Polygon: () => mean(coordinates[0].slice(1)) }[type];
  // A region has its predicted print's number; of squares the first ones are enough to find the others by.
  const name = type === "Point" ? properties.step ?? properties.rank : properties.step ? undefined : properties.rank;
  if (!middle || name === undefined || (type === "Polygon" && name > FIRST_RANKS)) return [];
  const [x, y] = place(middle());
  const text = element("text", { x, y: type === "Point" ? y - HALF - 4 : y + 5 });
  text.textContent = name;
  return [text];
}

function mean(points) {
  return [0, 1].map((axis) => points.reduce((sum, at) => sum + at[axis], 0) / points.length);
}

/** All places of a geometry. */
export function places(geometry) {
  if (geometry.geometries) return geometry.geometries.flatMap(places);
  const flat = (it) => (typeof it[0] === "number" ? [it] : it.flatMap(flat));
  return flat(geometry.coordinates);
}

/** A geometry's simple ones. */
function simple({ type, coordinates, geometries }) {
  if (type === "GeometryCollection") return geometries.flatMap(simple);
  if (!type.startsWith("Multi")) return [{ type, coordinates }];
  return coordinates.map((one) => ({ type: type.slice("Multi".length), coordinates: one }));
}

function drawing({ type, coordinates }, part, place) {
  const line = (points) => points.map((at, no) => `${no ? "L" : "M"}${place(at).map(short).join(" ")}`).join("");
  if (type === "Polygon") return [element("path", { class: "area", d: coordinates.map((ring) => `${line(ring)}Z`).join("") })];
  const d = type === "Point" ? (MARKS[part] ?? ((x, y) => ring(x, y, HALF)))(...place(coordinates).map(short)) : line(coordinates);
  return [element("path", { class: "rim", d }), element("path", { d })];
}

/** A number of pixels as it needs to be written. */
function short(pixels) {
  return Number(pixels.toFixed(2));
}
