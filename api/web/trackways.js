// The trackways of a surface: a list to go through, each to be looked at, asked about, accepted or rejected.

import { read } from "./service.js";
import { pairs, table, tag, value } from "./words.js";

/** So many of each status are listed. */
const MOST = 500;
/** What waits for a judgement stands first. */
const ORDER = ["proposed", "accepted", "rejected"];

/** Trackways of a surface as features in its grid: those of which something holds, such as that they meet a box. */
export async function trackways(surface, grid, holds) {
  const page = await read("collections/trackways/items", { surface, crs: grid.crs, limit: MOST, ...holds });
  return { ...page, features: grid.eastFirst(page.features) };
}

/** All of a surface as a table; `deeds` has what can be done with one: `choose`, `take` and `judge`. */
export async function list(surface, grid, deeds) {
  const pages = await Promise.all(ORDER.map((status) => trackways(surface, grid, { status })));
  const features = pages.flatMap((page) => page.features);
  if (!features.length) return tag("p", {}, "None is recorded yet.");
  const all = pages.reduce((sum, { numberMatched }) => sum + numberMatched, 0);
  const rows = features.map((trackway) => {
    const { trackway: label, status, probability, prints } = trackway.properties;
    const choose = tag("button", { type: "button", class: "plain", click: () => deeds.choose(trackway) }, label);
    return [choose, status, value(probability), prints.length, buttons(trackway, deeds)];
  });
  const names = ["trackway", "status", "probability", "prints", ""];
  const more = all > features.length ? tag("p", {}, `${features.length} of ${all}; touch the plan for others.`) : null;
  return tag("div", { class: "wide" }, table(names, rows), more);
}

/** One trackway with what is known of it. */
export function card(trackway, deeds) {
  const { status, basis, probability, prints, morphotype, note } = trackway.properties;
  return tag("section", {}, tag("h3", {}, `trackway ${trackway.id}`),
    pairs({ status, basis, probability, morphotype, note, prints: prints.length }), tag("p", {}, buttons(trackway, deeds)));
}

function buttons({ id, properties: { status, revision } }, { take, judge }) {
  const verdict = (name, done) => (status === done ? null
    : tag("button", { type: "button", name, "data-of": id, click: () => judge(id, name, revision) }, name));
  return tag("span", { class: "deeds" }, tag("button", { type: "button", name: "take", "data-of": id, click: () => take(id) }, "ask"),
    verdict("accept", "accepted"), verdict("reject", "rejected"));
}
