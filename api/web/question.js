// A form for any query, made from what the service tells of its inputs. It knows no query by name.

import { tag, words } from "./words.js";

/** What the map itself says: which surface, and in which CRS it draws. */
const GIVEN = ["surface", "crs"];

/** A form in place of what stood in `form`: the choice of a query and the inputs of the chosen one. */
export function question(form, queries, chosen, inputs, asks) {
  const query = queries.find(({ id }) => id === chosen) ?? queries[0];
  const choice = tag("select", { name: "query", change: () => question(form, queries, choice.value, inputs, asks) },
    ...queries.map(({ id, title }) => tag("option", { value: id, selected: id === query.id }, title)));
  const wanted = (name) => (query.required ?? []).includes(name) || name === "trackway";
  const names = Object.keys(query.inputs).filter((name) => !GIVEN.includes(name));
  const field = (name) => input(name, query.inputs[name], inputs[name]);
  const rest = names.filter((name) => !wanted(name));
  const more = tag("details", { open: rest.some((name) => inputs[name]) }, tag("summary", {}, "more inputs"), ...rest.map(field));
  form.replaceChildren(
    tag("label", {}, "Question ", choice),
    tag("p", { class: "weak" }, query.description),
    ...names.filter(wanted).map(field),
    ...(rest.length ? [more] : []),
    tag("button", {}, "Ask"),
  );
  form.onsubmit = (event) => {
    event.preventDefault();
    asks(query, given(form, names));
  };
}

/** The inputs that the reader has given, as texts. */
function given(form, names) {
  const texts = names.map((name) => [name, form.elements[name].value.trim()]);
  return Object.fromEntries(texts.filter(([, text]) => text));
}

function input(name, schema, text) {
  const attributes = { name, autocomplete: "off", spellcheck: "false" };
  const choices = schema.enum ?? schema.oneOf?.flatMap((one) => one.enum ?? []) ?? (schema.type === "boolean" ? ["true", "false"] : null);
  const usual = schema.default === null || schema.default === undefined || schema.default?.length === 0 ? "" : String(schema.default);
  const field = choices
    ? tag("select", attributes, tag("option", { value: "" }, usual ? `usual: ${usual}` : "–"),
        ...choices.map((one) => tag("option", { value: one, selected: text === String(one) }, one)))
    : tag("input", { ...attributes, value: text ?? "", placeholder: usual, inputmode: ["number", "integer"].includes(schema.type) ? "decimal" : "text" });
  return tag("label", {}, `${words(name)} `, field, tag("small", {}, (schema.description ?? "").replaceAll("`", "")));
}
