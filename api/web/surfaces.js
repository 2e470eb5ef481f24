// The surfaces that there are to look at.

import { read } from "./service.js";
import { table, tag, value } from "./words.js";

/** So many are listed; whoever looks for another one writes its id into the address. */
const MOST = 1000;

/** The surfaces as a table, each a link to its plan. */
export async function list() {
  const { features, numberMatched } = await read("collections/surfaces/items", { limit: MOST });
  if (!features.length) return tag("p", {}, "There is no surface that is shown to you. A field sheet makes them; a token may show more.");
  const columns = ["name", "prints", "trackways", "lithology", "note"];
  const link = (id) => tag("a", { href: `#${new URLSearchParams({ surface: id })}` }, id);
  const rows = features.map(({ id, properties }) => [link(id), ...columns.map((name) => value(properties[name]))]);
  const more = numberMatched > features.length ? tag("p", {}, `The first ${features.length} of ${numberMatched}.`) : null;
  return tag("div", {}, table(["surface", ...columns], rows), more);
}
