// Asks the service this page comes from, with the token of this tab where there is one.

const KEPT = "stridebed-token";

/** The token of this tab; an empty text where there is none. */
export function token() {
  return sessionStorage.getItem(KEPT) ?? "";
}

/** Keeps a token until the tab is closed; an empty text forgets it. */
export function keepToken(text) {
  text ? sessionStorage.setItem(KEPT, text) : sessionStorage.removeItem(KEPT);
}

/** What the service refused, in its own words. */
export class Refusal extends Error {
  constructor(problem, status) {
    super(problem.detail ?? problem.title ?? `The service answered ${status}.`);
    this.status = status;
    this.faults = problem.faults ?? [];
  }
}

/**
 * Asks for a path with parameters and gives the response.
 *
 * Throws a Refusal where the service refuses or cannot be reached.
 */
async function response(path, parameters = {}, options = {}) {
  const url = new URL(path, document.baseURI);
  for (const [name, value] of Object.entries(parameters)) {
    if (value !== null && value !== undefined && value !== "") url.searchParams.set(name, value);
  }
  const headers = { accept: "application/geo+json, application/json", ...options.headers };
  if (token()) headers.authorization = `Bearer ${token()}`;
  let answer;
  try {
    answer = await fetch(url, { ...options, headers });
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Refusal({ detail: "The service cannot be reached." }, 0);
  }
  if (!answer.ok) throw new Refusal(await answer.json().catch(() => ({})), answer.status);
  return answer;
}

/** The JSON document at a path. */
export async function read(path, parameters, options) {
  return (await response(path, parameters, options)).json();
}

/** The SVG picture at a path, as an element of this document. */
export async function picture(path, parameters, options = {}) {
  const answer = await response(path, parameters, { ...options, headers: { accept: "image/svg+xml" } });
  const parsed = new DOMParser().parseFromString(await answer.text(), "image/svg+xml");
  return document.importNode(parsed.documentElement, true);
}

/** Changes something by what is sent; the answer's document. */
export function change(path, headers = {}, body = null) {
  return read(path, {}, { method: "POST", headers, body });
}
