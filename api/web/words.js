// The service's documents as elements of a page. All text is set as text: what a sheet says is never run.

/** An element with attributes (functions become listeners) and children; null children are left out. */
export function tag(name, attributes = {}, ...children) {
  const made = document.createElement(name);
  for (const [attribute, value] of Object.entries(attributes)) {
    if (typeof value === "function") made.addEventListener(attribute, value);
    else if (value !== false && value !== null && value !== undefined) made.setAttribute(attribute, value === true ? "" : value);
  }
  made.append(...children.filter((child) => child !== null && child !== undefined));
  return made;
}

/** More members of a list than these are counted, not told. */
const MOST_MEMBERS = 12;

/** A value as a reader wants it: numbers rounded to what can be read, unknown as a dash. */
export function value(it) {
  if (it === null || it === undefined) return "–";
  if (typeof it === "number") return number(it);
  if (typeof it === "boolean") return it ? "yes" : "no";
  if (Array.isArray(it)) return list(it);
  if (typeof it === "object") return pairs(it);
  return String(it);
}

function number(it) {
  if (Number.isInteger(it)) return String(it);
  return Math.abs(it) >= 1000 ? it.toFixed(3) : String(Number(it.toPrecision(4)));
}

function list(it) {
  if (!it.length) return "none";
  const told = it.slice(0, MOST_MEMBERS).map(value);
  const more = it.length > told.length ? `, … (${it.length} in all)` : "";
  if (told.every((one) => typeof one === "string")) return told.join(", ") + more;
  return tag("div", {}, ...told.map((one) => tag("div", {}, one)), more);
}

/** A record's fields with their values; unknown ones are left out. */
export function pairs(record, leftOut = []) {
  const known = Object.entries(record).filter(([name, it]) => it !== null && it !== undefined && !leftOut.includes(name));
  return tag("dl", {}, ...known.flatMap(([name, it]) => [tag("dt", {}, words(name)), tag("dd", {}, value(it))]));
}

/** The units that names end in. */
const UNITS = [["_m_s", ", m/s"], ["_m", ", m"], ["_deg", ", °"], ["_pct", ", %"], ["_s", ", s"]];

/** A field's name as words, with its unit. */
export function words(name) {
  const [end, unit] = UNITS.find(([ending]) => name.endsWith(ending)) ?? ["", ""];
  return name.slice(0, name.length - end.length).replaceAll("_", " ") + unit;
}

/** A table: the names of its columns, and rows of cells. */
export function table(names, rows) {
  const cells = (kind, row) => tag("tr", {}, ...row.map((it) => tag(kind, {}, it)));
  return tag("table", {}, cells("th", names), ...rows.map((row) => cells("td", row)));
}

/** What the service refused, with every fault that it named. */
export function refusal(problem) {
  const faults = problem.faults ?? [];
  const columns = [...new Set(faults.flatMap(Object.keys))];
  const rows = faults.map((fault) => columns.map((name) => value(fault[name])));
  return tag("div", { class: "fault wide", role: "alert" }, problem.message, faults.length ? table(columns.map(words), rows) : null);
}
