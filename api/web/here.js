// What lies at a place of a surface: the nearest print, and the trackways that hold it.

import { read } from "./service.js";
import { card, trackways } from "./trackways.js";
import { pairs, refusal, table, tag, value } from "./words.js";

/** Half the side of the box around a print in which its trackways are looked for; metres. */
const AROUND_M = 2;
/** What the map shows, or programs need. */
const LEFT_OUT = ["part", "rank", "site", "surface", "grid_distance_m", "depth_samples", "further"];

/** What lies at a place [easting, northing], as elements and as features to lay over the plan. */
export async function here({ surface, grid, at }, deeds) {
  const told = tag("p", {}, `easting ${at[0].toFixed(3)} m, northing ${at[1].toFixed(3)} m`);
  const near = await read("queries/nearest", { surface, at: grid.turned(at.join()), crs: grid.crs, k: 1 });
  const [print] = grid.eastFirst(near.features);
  if (!print) return { elements: [told, tag("p", {}, "No print is recorded on this surface.")], features: [] };
  const held = await holding(print, grid);
  return {
    elements: [
      told,
      tag("h3", {}, `nearest print: ${print.id}`),
      pairs(print.properties, LEFT_OUT),
      past(print.id),
      ...held.map((trackway) => card(trackway, deeds)),
    ],
    features: [...held, { ...print, properties: { part: "print" } }],
  };
}

/** Who changed a print, when and by what; asked for when it is opened. */
function past(id) {
  const told = tag("div", { class: "wide" });
  const open = async () => {
    const { revisions } = await read(`collections/prints/items/${id}/history`, { limit: 1000 });
    const columns = ["revision", "at", "author", "deed"];
    told.replaceChildren(table(columns, revisions.map((one) => columns.map((name) => value(one[name])))));
  };
  const show = () => open().catch((error) => told.replaceChildren(refusal(error)));
  return tag("details", { class: "past", toggle: show }, tag("summary", {}, "its history"), told);
}

/** The trackways that hold a print. */
async function holding(print, grid) {
  const [east, north] = print.geometry.coordinates;
  const around = [east - AROUND_M, north - AROUND_M, east + AROUND_M, north + AROUND_M];
  const { features } = await trackways(print.properties.surface, grid, { bbox: grid.box(around), "bbox-crs": grid.crs });
  return features.filter(({ properties }) => properties.prints.includes(print.id));
}
