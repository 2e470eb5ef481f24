// The answer of a query as a page: what it warns of first, then its features by what they are.

import { pairs, tag, value, words } from "./words.js";

/** More rows than these are left to programs. */
const MOST_ROWS = 200;
/** What every feature of a surface repeats, or what the map shows. */
const LEFT_OUT = ["part", "site", "surface", "links"];

/** An answer and further elements as elements; `choose` is called with the feature that the reader picks. */
export function told(answer, choose, further) {
  const parts = Map.groupBy(answer.features, (feature) => feature.properties.part ?? "record");
  const order = [...parts.keys()].sort((a, b) => rank(a) - rank(b));
  return [
    answer.caution ? tag("p", { class: "caution" }, answer.caution) : null,
    ...further,
    answer.features.length ? null : tag("p", {}, "Nothing was found."),
    ...order.flatMap((part) => section(part, parts.get(part), choose)),
    tag("details", {}, tag("summary", {}, "what was asked, and the method"), pairs(answer.query ?? {}), pairs(answer.method ?? {})),
  ].filter(Boolean);
}

/** Summaries and statements stand first. */
function rank(part) {
  const first = ["summary", "statement"].indexOf(part);
  return first < 0 ? 2 : first;
}

function section(part, features, choose) {
  if (part === "statement") return [tag("ol", {}, ...features.map((feature) => statement(feature, choose)))];
  if (part === "summary") return features.map(({ properties }) => pairs(properties, LEFT_OUT));
  const more = features.length > MOST_ROWS ? `; the first ${MOST_ROWS}` : "";
  return [tag("h3", {}, `${words(part)} (${features.length}${more})`), table(features.slice(0, MOST_ROWS), choose)];
}

/** A sentence, how sure it is, and what it assumes. */
function statement(feature, choose) {
  const { says, strength, caution, p_corrected: p, probability } = feature.properties;
  const odds = [strength, p && `corrected p ${value(p)}`, probability && `probability ${value(probability)}`];
  return tag("li", { class: strength },
    feature.geometry ? tag("button", { type: "button", class: "plain", click: () => choose(feature) }, says) : says,
    tag("div", { class: "weak" }, odds.filter(Boolean).join(", ")),
    caution ? tag("details", {}, tag("summary", {}, "what it assumes"), caution) : null);
}

/** Features of one part; fields that are unknown in all of them are left out. */
function table(features, choose) {
  const names = new Set(features.flatMap(({ properties }) => Object.keys(properties)));
  const known = (name) => features.some(({ properties }) => properties[name] !== null && properties[name] !== undefined);
  const columns = [...names].filter((name) => !LEFT_OUT.includes(name) && known(name));
  const ids = features.some(({ id }) => id !== undefined);
  const head = tag("tr", {}, ids ? tag("th", {}, "id") : null, ...columns.map((name) => tag("th", {}, words(name))));
  const rows = features.map((feature) => {
    const go = () => choose(feature);
    const keyed = (event) => event.key === "Enter" && go();
    const cells = columns.map((name) => tag("td", {}, value(feature.properties[name])));
    return tag("tr", { class: "goes", tabindex: 0, click: go, keydown: keyed }, ids ? tag("td", {}, feature.id ?? "–") : null, ...cells);
  });
  return tag("div", { class: "wide" }, tag("table", {}, head, ...rows));
}
