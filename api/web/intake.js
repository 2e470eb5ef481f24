// A field sheet in: taken whole or not at all, with every fault named.

import { change, read } from "./service.js";
import { pairs, refusal, tag } from "./words.js";

/** So many sites are offered. */
const MOST = 1000;
/** The norths that a sheet's azimuths may be counted from. */
const NORTHS = ["grid", "true", "magnetic", "local"];

/** A form that takes a sheet; `taken` is called once one is stored. Nothing where no site is shown. */
export async function intake(taken) {
  const { features } = await read("collections/sites/items", { limit: MOST });
  if (!features.length) return "";
  const told = tag("div");
  const choice = (name, values) => tag("select", { name }, ...values.map((one) => tag("option", { value: one }, one)));
  const form = tag("form", {},
    tag("label", {}, "Site ", choice("site", features.map(({ id }) => id))),
    tag("label", {}, "Sheet ", tag("input", { type: "file", name: "sheet", required: true, accept: ".csv,.geojson,.json" }),
      tag("small", {}, "CSV with a header row, one row a print: surface, print, easting_m, northing_m, length_m and what else is known; or GeoJSON.")),
    tag("label", {}, "North ", choice("north", NORTHS), tag("small", {}, "The north that the sheet's azimuths are counted from.")),
    tag("label", {}, "Surveyed on ", tag("input", { type: "date", name: "surveyed_on" }),
      tag("small", {}, "With magnetic north, the day for prints without observed_on.")),
    tag("button", {}, "Take the sheet"), told);
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const button = form.querySelector("button");
    button.disabled = true;
    told.replaceChildren("The service reads the sheet …");
    try {
      const report = await take(form.elements);
      told.replaceChildren(pairs(report));
      taken();
    } catch (error) {
      told.replaceChildren(refusal(error));
    } finally {
      button.disabled = false;
    }
  });
  return tag("details", { id: "intake" }, tag("summary", {}, "Take a field sheet"), form);
}

function take({ site, sheet, north, surveyed_on: day }) {
  const [file] = sheet.files;
  const media = /\.(geo)?json$/i.test(file.name) ? "application/geo+json" : "text/csv";
  const asked = new URLSearchParams({ north: north.value, ...(day.value && { surveyed_on: day.value }) });
  return change(`sites/${site.value}/imports?${asked}`, { "content-type": media }, file);
}
