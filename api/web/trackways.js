// The trackways of a surface: a list to go through, each to be looked at, asked about, accepted or rejected.

import { read } from "./service.js";
import { pairs, table, tag, value } from "./words.js";

/** So many are listed. */
const MOST = 500;
/** What waits for a judgement stands first. */
const ORDER = ["proposed", "accepted", "rejected"];

/** The trackways that meet a box of the surface, or all of them, as features in a CRS. */
export function trackways(surface, crs, bbox = null) {
  const part = bbox ? { bbox: bbox.join(), "bbox-crs": crs } : {};
  return read("collections/trackways/items", { surface, crs, limit: MOST, ...part });
}

/** All of a surface as a table; `deeds` has what can be done with one: `choose`, `take` and `judge`. */
export async function list(surface, crs, deeds) {
  const { features, numberMatched } = await trackways(surface, crs);
  if (!features.length) return tag("p", {}, "None is recorded yet.");
  const sorted = ORDER.flatMap((status) => features.filter(({ properties }) => properties.status === status));
  const rows = sorted.map((trackway) => {
    const { trackway: label, status, probability, prints } = trackway.properties;
    const choose = tag("button", { type: "button", class: "plain", click: () => deeds.choose(trackway) }, label);
    return [choose, status, value(probability), prints.length, buttons(trackway, deeds)];
  });
  const names = ["trackway", "status", "probability", "prints", ""];
  const more = numberMatched > features.length ? tag("p", {}, `The first ${features.length} of ${numberMatched}; touch the plan for others.`) : null;
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
