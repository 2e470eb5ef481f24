// The map page: one surface, its plan, and what is asked of it. What it shows stands in the address after `#`, so that a
// link leads to the same view; that part of an address is not sent to any service.

import { told } from "./answer.js";
import { here } from "./here.js";
import { intake } from "./intake.js";
import { Plan } from "./plan.js";
import { question } from "./question.js";
import { change, keepToken, picture, read, token } from "./service.js";
import { list as surfaces } from "./surfaces.js";
import { list as trackways } from "./trackways.js";
import { refusal, tag } from "./words.js";

const find = (selector) => document.querySelector(selector);
/** What the address says beside the inputs of a query. */
const OWN = ["surface", "bbox", "at", "query"];

let state = {};
let queries = null;
let asking = null;

const plan = new Plan(find("#plan"), {
  touched: (at) => {
    keep({ at: at.map((metres) => metres.toFixed(3)).join() });
    look().catch(fail);
  },
  moved: (window) => keep({ bbox: window.join() }),
  failed: fail,
});

/** Changes what the address says; what is empty is left out of it. */
function keep(parts) {
  state = { ...state, ...parts };
  for (const name in state) if (!state[name]) delete state[name];
  history.replaceState(null, "", `#${new URLSearchParams(state)}`);
}

function fail(error) {
  if (error.name !== "AbortError") say(refusal(error));
}

/** Tells something above the map; nothing takes it away. */
function say(what = "") {
  find("#told").replaceChildren(what);
}

/** Shows what the address says. */
async function open() {
  say();
  state = Object.fromEntries(new URLSearchParams(location.hash.slice(1)));
  const { surface } = state;
  for (const [selector, shown] of [["#surfaces", !surface], ["#ground", surface], ["aside", surface], ["#here", false], ["#answer", false]]) {
    find(selector).hidden = !shown;
  }
  if (plan.surface !== surface) plan.clear();
  find("#trail").textContent = surface ? ` / ${surface}` : "";
  document.title = `${surface ?? "Map"} – Stridebed`;
  if (!surface) {
    await listSurfaces();
    find("#surfaces .intake").replaceChildren(await intake(() => listSurfaces().catch(fail)));
    return;
  }
  const window = state.bbox?.split(",").map(Number);
  try {
    // A window is told in the surface's own CRS, which its plan knows.
    if (window && plan.surface !== surface) await plan.show(surface);
    await (window ? plan.show(surface, window) : plan.show(surface));
  } catch (error) {
    [find("#ground"), find("aside")].forEach((part) => { part.hidden = true; });
    throw error;
  }
  await plan.lay([]);
  queries ??= (await read("queries")).queries;
  ask();
  await listTrackways();
  if (state.at) await look();
  if (!state.query) return;
  const query = queries.find(({ id }) => id === state.query);
  if (!query) throw new Error(`There is no query ${state.query}; the form lists those that there are.`);
  await answer(query, inputs());
}

async function listSurfaces() {
  find("#surfaces .wide").replaceChildren(await surfaces());
}

/** The inputs of a query that the address says. */
function inputs() {
  return Object.fromEntries(Object.entries(state).filter(([name]) => !OWN.includes(name)));
}

/** The form of a query with the inputs that the address says. */
function ask(chosen = state.query) {
  // What asks nothing of a surface has no place on a map.
  const mapped = queries.filter((query) => query.inputs.surface || query.inputs.trackway);
  question(find("#question form"), mapped, chosen, { at: plan.grid.turned(state.at), ...inputs() }, (query, given) => {
    const { surface, bbox } = state;
    const at = plan.grid.turned(given.at) ?? state.at;
    state = {};
    keep({ surface, bbox, query: query.id, ...given, at });
    answer(query, given).then(() => find("#answer").scrollIntoView({ block: "nearest" })).catch(fail);
  });
}

/** Asks a query and shows what it answers. */
async function answer(query, given) {
  asking?.abort();
  asking = new AbortController();
  const { signal } = asking;
  const section = find("#answer");
  const box = section.querySelector("div");
  section.hidden = false;
  const stop = tag("button", { type: "button", click: () => asking.abort() }, "Stop");
  box.replaceChildren(tag("p", {}, "The service is working on it … ", stop));
  const parameters = { ...given };
  // A query of one trackway or of a surface takes the trackway, where one is given.
  if (query.inputs.surface && !given.trackway) parameters.surface = state.surface;
  if (query.inputs.at) parameters.at = plan.grid.turned(state.at);
  if (query.inputs.crs) parameters.crs = plan.grid.crs;
  try {
    const found = await read(`queries/${query.id}`, parameters, { signal });
    // Without a CRS of its own an answer has no place on the plan.
    const features = query.inputs.crs ? plan.grid.eastFirst(found.features) : found.features;
    box.replaceChildren(...told({ ...found, features }, choose, drawing(query, parameters)));
    await plan.lay(query.inputs.crs ? features : []);
  } catch (error) {
    box.replaceChildren(error.name === "AbortError" ? "Stopped." : refusal(error));
  }
}

function choose(feature) {
  plan.choose(feature).catch(fail);
}

/** What can be done with a trackway. */
const deeds = { take, judge, choose: (trackway) => plan.lay([trackway]).catch(fail) };

/** The trackways of the surface, to go through. */
async function listTrackways() {
  find("#trackways div").replaceChildren(await trackways(state.surface, plan.grid, deeds));
}

/** What asks for the picture of an answer, where the query has one. */
function drawing(query, parameters) {
  if (!query.links.some(({ type }) => type === "image/svg+xml")) return [];
  const figure = tag("figure");
  const draw = async () => figure.replaceChildren(await picture(`queries/${query.id}`, { ...parameters, f: "svg" }));
  figure.append(tag("button", { type: "button", click: () => draw().catch(fail) }, "Draw its picture"));
  return [figure];
}

/** Tells what lies at the place that was touched. */
async function look() {
  const section = find("#here");
  section.hidden = false;
  const at = state.at.split(",").map(Number);
  const found = await here({ surface: state.surface, grid: plan.grid, at }, deeds);
  section.querySelector("div").replaceChildren(...found.elements);
  if (!state.query) await plan.lay(found.features);
}

/** Makes a trackway the one that is asked about. */
function take(trackway) {
  keep({ trackway });
  const takes = (query) => query.inputs.trackway;
  const asked = queries.find(({ id }) => id === find("#question select").value);
  ask(takes(asked) ? asked.id : queries.find(takes).id);
  find("#question").scrollIntoView({ block: "nearest" });
}

/** Accepts or rejects a trackway as it stood when the reader saw it. */
async function judge(trackway, verdict, revision) {
  try {
    await change(`trackways/${trackway}/${verdict}`, { "if-match": `"${revision}"` });
    await again();
    say(`${trackway} is ${verdict}ed.`);
  } catch (error) {
    fail(error);
    // Somebody else has changed it: the reader judges what stands now, or leaves it.
    if (error.status === 412) await again().catch(fail);
  }
}

/** Draws and lists anew what has changed. */
async function again() {
  await plan.show(state.surface, plan.window);
  await listTrackways();
  if (state.at) await look();
}

async function propose(button) {
  button.disabled = true;
  say("Grouping the prints …");
  try {
    const { added, changed, trackways: all } = await change(`surfaces/${state.surface}/proposals`);
    await again();
    say(`${all} trackways found: ${added} new proposals, ${changed} changed ones.`);
  } catch (error) {
    fail(error);
  } finally {
    button.disabled = false;
  }
}

find("[name=nearer]").onclick = () => plan.zoom(1.6);
find("[name=farther]").onclick = () => plan.zoom(1 / 1.6);
find("[name=whole]").onclick = () => plan.show(state.surface).catch(fail);
find("[name=legend]").onclick = () => plan.toggleLegend();
find("[name=propose]").onclick = (event) => propose(event.target);
find("#token form").onsubmit = (event) => {
  event.preventDefault();
  use(event.target.elements.token.value.trim());
};
find("[name=forget]").onclick = () => use("");

/** Goes on with another token, or with none, on a page that has nothing left of what was shown for the one before. */
function use(text) {
  keepToken(text);
  location.reload();
}

find("#token summary").textContent = token() ? "a token is in use" : "token";
addEventListener("hashchange", () => open().catch(fail));
open().catch(fail);
