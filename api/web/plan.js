// The plan of a surface as the service draws it, moved about by hand and drawn anew where it comes to rest.

import { picture } from "./service.js";
import { Grid } from "./grid.js";
import { element, laid, places } from "./laid.js";

/** The service draws no narrower and, for a screen, no wider pages; pixels. */
const [NARROWEST, WIDEST] = [480, 1600];
/** No window is smaller or larger than these; metres. */
const [SMALLEST_M, LARGEST_M] = [0.2, 1e5];
/** A pointer that moves less has touched a place and not dragged the plan; pixels. */
const STILL = 6;
/** So long after the last turn of the wheel the plan is drawn anew; milliseconds. */
const REST = 220;
/** A narrower plan has its legend only where it is asked for; pixels. */
const SMALL = 700;
/** What the coordinates below the map need; pixels of the plan. */
const BELOW = 66;
/** So much of its width is left free around what a window is widened for. */
const ROOM = 0.03;

/** A coordinate in tenths of a millimetre. */
function tenths(metres) {
  return Number(metres.toFixed(4));
}

export class Plan {
  /** A plan in a box of the page. `touched` is told of a place, `moved` of a new window, `failed` of what went wrong. */
  constructor(box, { touched, moved, failed }) {
    Object.assign(this, { box, touched, moved, failed });
    this.features = [];
    this.pointers = new Map();
    this.asked = 0;
    box.addEventListener("keydown", (event) => this.#key(event));
  }

  /** Draws a surface: all of it, or what lies in a window [west, south, east, north] of a surface that was drawn before. */
  async show(surface, window = null) {
    const asked = ++this.asked;
    this.box.classList.add("waits");
    try {
      const width = Math.round(Math.min(Math.max(this.box.clientWidth, NARROWEST), WIDEST));
      const part = window ? { bbox: this.grid.box(window), "bbox-crs": this.grid.crs } : {};
      const svg = await picture(`surfaces/${surface}/plan.svg`, { ...part, width });
      // Whoever has asked for another window meanwhile waits for that one.
      if (asked === this.asked) this.#set(svg, surface);
    } finally {
      if (asked === this.asked) this.box.classList.remove("waits");
    }
  }

  /** Takes away what was drawn. */
  clear() {
    this.asked += 1;
    clearTimeout(this.resting);
    this.surface = this.window = this.over = null;
    this.features = [];
    this.box.replaceChildren();
  }

  /** Lays features in the surface's CRS over the plan, in place of those before, and goes far enough to show them all. */
  async lay(features) {
    this.features = features;
    this.#layAll();
    await this.#reach(features);
  }

  /** Makes one of the features that were laid stand out. */
  async choose(feature) {
    this.chosen = feature;
    this.#layAll();
    await this.#reach([feature]);
  }

  /** Shows or hides the legend where there is no room for it beside what is asked. */
  toggleLegend() {
    this.legend = !this.legend;
    this.#crop();
  }

  /** Comes nearer (above 1) or goes farther, about the middle or a place of the page. */
  zoom(by, at = null) {
    const [left, top, width, height] = this.frame;
    const [x, y] = at ?? [left + width / 2, top + height / 2];
    const across = (this.window[2] - this.window[0]) / this.hand.scale;
    const least = across / LARGEST_M, most = across / SMALLEST_M;
    by = Math.min(Math.max(by, least), most);
    const { scale, shift } = this.hand;
    this.#hold({ scale: scale * by, shift: [x - (x - shift[0]) * by, y - (y - shift[1]) * by] });
    clearTimeout(this.resting);
    this.resting = setTimeout(() => this.#rest(), REST);
  }

  #set(svg, surface) {
    const numbers = (name) => svg.getAttribute(name).split(" ").map(Number);
    this.surface = surface;
    this.grid = new Grid(svg.getAttribute("data-crs"), svg.getAttribute("data-axes") === "N E");
    [this.window, this.frame] = [numbers("data-window"), numbers("data-frame")];
    this.svg = svg;
    this.whole = svg.getAttribute("viewBox").split(" ").map(Number);
    this.map = element("g", {});
    const clipped = svg.querySelector("g[clip-path]");
    this.map.append(...clipped.childNodes);
    this.over = element("g", { class: "laid" });
    this.map.append(this.over);
    clipped.append(this.map);
    const [x, y, width, height] = this.frame;
    const hand = element("rect", { class: "frame", x, y, width, height, tabindex: 0 });
    hand.setAttribute("aria-label", "the map: arrows move it, plus and minus come nearer and go farther, Home shows it whole");
    svg.append(hand);
    this.#listen(hand);
    const focused = this.box.contains(document.activeElement);
    this.box.replaceChildren(svg);
    if (focused) hand.focus();
    this.hand = { scale: 1, shift: [0, 0] };
    // The plan that a finger still held is gone.
    this.pointers.clear();
    this.#crop();
    this.#layAll();
    this.moved(this.window);
  }

  /** On a small screen the page ends below the map, so that what is asked stands near. */
  #crop() {
    const [, , width, height] = this.whole;
    const [, top, , down] = this.frame;
    const end = this.box.clientWidth < SMALL && !this.legend ? top + down + BELOW : height;
    this.svg.setAttribute("viewBox", `0 0 ${width} ${end}`);
    this.svg.setAttribute("height", end);
  }

  /** Widens the window until features lie in it. */
  async #reach(features) {
    const all = features.filter(({ geometry }) => geometry).flatMap(({ geometry }) => places(geometry));
    if (!all.length || !this.window) return;
    const [w, s, e, n] = this.window;
    const span = (axis) => all.reduce(([low, high], at) => [Math.min(low, at[axis]), Math.max(high, at[axis])], [Infinity, -Infinity]);
    const [[west, east], [south, north]] = [span(0), span(1)];
    if (west >= w && east <= e && south >= s && north <= n) return;
    const room = ROOM * Math.max(e - w, east - west);
    const wider = [Math.min(w, west - room), Math.min(s, south - room), Math.max(e, east + room), Math.max(n, north + room)];
    await this.show(this.surface, wider.map(tenths));
  }

  #layAll() {
    if (!this.over) return;
    const place = (at) => this.onPage(at);
    this.over.replaceChildren(...laid(this.features, this.chosen, place));
  }

  /** The place on the page of an easting and northing, as the plan was drawn. */
  onPage([east, north]) {
    const [left, top, width, height] = this.frame;
    const [w, s, e, n] = this.window;
    return [left + ((east - w) / (e - w)) * width, top + ((n - north) / (n - s)) * height];
  }

  /** The easting and northing of a place on the page, as the plan is held. */
  onGround([x, y]) {
    const [left, top, width, height] = this.frame;
    const [w, s, e, n] = this.window;
    const { scale, shift } = this.hand;
    const [px, py] = [(x - shift[0]) / scale, (y - shift[1]) / scale];
    return [w + ((px - left) / width) * (e - w), n - ((py - top) / height) * (n - s)];
  }

  #hold(hand) {
    this.hand = hand;
    const { scale, shift } = hand;
    this.map.setAttribute("transform", `translate(${shift[0]} ${shift[1]}) scale(${scale})`);
  }

  /** Draws anew what the hand has brought into the frame. */
  #rest() {
    const [left, top, width, height] = this.frame;
    const [w, n] = this.onGround([left, top]);
    const [e, s] = this.onGround([left + width, top + height]);
    this.show(this.surface, [w, s, e, n].map(tenths)).catch(this.failed);
  }

  #listen(hand) {
    hand.addEventListener("pointerdown", (event) => {
      hand.setPointerCapture(event.pointerId);
      this.pointers.set(event.pointerId, this.#pagePlace(event));
      this.start = this.#pagePlace(event);
      this.dragged = this.pointers.size > 1;
    });
    hand.addEventListener("pointermove", (event) => this.#move(event));
    hand.addEventListener("pointerup", (event) => this.#up(event));
    hand.addEventListener("pointercancel", (event) => this.pointers.delete(event.pointerId));
    hand.addEventListener("wheel", (event) => {
      event.preventDefault();
      this.zoom(Math.exp(-event.deltaY / 400), this.#pagePlace(event));
    }, { passive: false });
  }

  #pagePlace(event) {
    const point = new DOMPoint(event.clientX, event.clientY);
    const { x, y } = point.matrixTransform(this.svg.getScreenCTM().inverse());
    return [x, y];
  }

  #move(event) {
    const before = this.pointers.get(event.pointerId);
    if (!before) return;
    const now = this.#pagePlace(event);
    const apart = Math.hypot(now[0] - this.start[0], now[1] - this.start[1]);
    if (!this.dragged && apart < STILL) return;
    this.dragged = true;
    const others = [...this.pointers].filter(([id]) => id !== event.pointerId).map(([, at]) => at);
    this.pointers.set(event.pointerId, now);
    if (others.length) {
      const span = (at) => Math.hypot(at[0] - others[0][0], at[1] - others[0][1]);
      this.zoom(span(now) / Math.max(span(before), 1), others[0]);
      return;
    }
    const { scale, shift } = this.hand;
    this.#hold({ scale, shift: [shift[0] + now[0] - before[0], shift[1] + now[1] - before[1]] });
  }

  #up(event) {
    if (!this.pointers.delete(event.pointerId) || this.pointers.size) return;
    if (this.dragged) {
      this.#rest();
      return;
    }
    this.touched(this.onGround(this.#pagePlace(event)));
  }

  #key(event) {
    const [, , width, height] = this.frame ?? [0, 0, 0, 0];
    const steps = { ArrowLeft: [1, 0], ArrowRight: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
    const step = steps[event.key];
    if (step) {
      const { scale, shift } = this.hand;
      this.#hold({ scale, shift: [shift[0] + 0.2 * width * step[0], shift[1] + 0.2 * height * step[1]] });
      this.#rest();
    } else if (event.key === "+") this.zoom(1.5);
    else if (event.key === "-") this.zoom(1 / 1.5);
    else if (event.key === "Home") this.show(this.surface).catch(this.failed);
    else return;
    event.preventDefault();
  }
}
