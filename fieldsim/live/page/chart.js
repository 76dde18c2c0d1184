// Curves against time: lines and words that stay where they are and are only moved.

import { make } from "./make.js";

const SPACE = "http://www.w3.org/2000/svg";
const SIDE = 1000; // of the drawing, which is stretched to its frame
const KINDS = 6; // of lines, each with its own colour and dashes in the style sheet

export class Chart {
  /** @param {HTMLElement} box */
  constructor(box) {
    this.box = box;
    this.picture = drawn("svg", { viewBox: `0 0 ${SIDE} ${SIDE}`, preserveAspectRatio: "none" });
    this.grid = drawn("path", { class: "grid" });
    this.zero = drawn("path", { class: "zero" });
    this.picture.append(this.grid, this.zero);
    this.title = make("span", { className: "title" });
    this.names = make("span", { className: "names" });
    this.below = make("span", { className: "below" });
    this.words = make("div", { className: "ticks" });
    this.frame = make("div", { className: "frame" }, this.picture, this.words);
    box.append(make("div", { className: "head" }, this.title, this.names), this.frame, this.below);
    this.known = ""; // of what stands still while only the curves move
    /** @type {SVGElement[]} */ this.lines = [];
  }

  /**
   * @param {number[]} times
   * @param {any} along
   * @param {{name: string, values: number[]}[]} series
   * @param {any} up
   * @param {string} words for those who do not see it
   */
  show(times, along, series, up, words) {
    this.box.hidden = !series.length;
    if (!series.length) return;
    this.box.setAttribute("aria-label", words);
    const x = (value) => (SIDE * (value - along.low)) / (along.high - along.low);
    const y = (value) => SIDE - (SIDE * (value - up.low)) / (up.high - up.low);
    const names = series.map((of) => of.name);
    const known = JSON.stringify([along, up, names]);
    if (known !== this.known) {
      this.known = known;
      this.#furnish(along, up, names, x, y);
    }
    const across = times.map((time) => x(time).toFixed(1));
    this.lines.forEach((line, i) => line.setAttribute("d", "M" +
      (series[i]?.values ?? []).map((value, j) => `${across[j]} ${y(value).toFixed(1)}`).join("L")));
  }

  /** Put axes, names and as many lines as there are series. */
  #furnish(along, up, names, x, y) {
    const rungs = up.ticks.map((tick) => `M0 ${y(tick.value)}H${SIDE}`);
    const posts = along.ticks.map((tick) => `M${x(tick.value)} 0V${SIDE}`);
    this.grid.setAttribute("d", [...rungs, ...posts].join(""));
    this.zero.setAttribute("d", up.low < 0 && up.high > 0 ? `M0 ${y(0)}H${SIDE}` : "");
    this.title.textContent = up.title;
    this.below.textContent = along.title;
    this.words.replaceChildren(
      ...up.ticks.map((tick) => placed("up", "top", y(tick.value), tick.text)),
      ...along.ticks.map((tick) => placed("along", "left", x(tick.value), tick.text)));
    for (const line of this.lines) line.remove();
    this.lines = names.map((_, i) => drawn("path", { class: `line kind${i % KINDS}` }));
    this.picture.append(...this.lines);
    const legend = names.length > 1 ? names : [];
    this.names.replaceChildren(...legend.map((name, i) => make("span", {}, sample(i), name)));
  }
}

/** A short piece of a line beside its name. @param {number} i */
function sample(i) {
  const picture = drawn("svg", { class: "sample", viewBox: "0 0 26 10" });
  picture.append(drawn("path", { class: `line kind${i % KINDS}`, d: "M0 5H26" }));
  return picture;
}

function placed(kind, side, at, text) {
  const made = make("span", { className: kind, textContent: text });
  made.style[side] = `${(100 * at) / SIDE}%`;
  return made;
}

/** @param {string} tag @param {Record<string, string>} marks @returns {SVGElement} */
function drawn(tag, marks) {
  const made = /** @type {SVGElement} */ (document.createElementNS(SPACE, tag));
  for (const [name, value] of Object.entries(marks)) made.setAttribute(name, value);
  return made;
}
