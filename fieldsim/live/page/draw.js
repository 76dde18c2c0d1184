// Puts an answer on the page. All words and numbers come from the server; nothing is worked out here.

import { Chart } from "./chart.js";
import { by, make } from "./make.js";

/** What identifies a control on the page. */
const nameOf = (control) => control.paths.join(" ");

/**
 * Show the controls, keeping those that are there so that a hand on one is not disturbed.
 * @param {any[]} controls
 * @param {(control: any, value: string, settled: boolean) => void} moved
 * @param {Element | null} typing the field that is being typed in, which is left alone
 */
export function drawControls(controls, moved, typing = document.activeElement) {
  const wanted = controls.map(nameOf).join("\n");
  if (by("groups").dataset.names !== wanted) {
    by("groups").dataset.names = wanted;
    buildControls(controls, moved);
  }
  for (const control of controls) updateControl(control, typing);
}

/** What holds each control, by its name. @type {Map<string, any>} */
const boxes = new Map();

function buildControls(controls, moved) {
  const focused = document.activeElement?.id;
  by("groups").replaceChildren();
  by("others").replaceChildren();
  boxes.clear();
  const groups = new Map();
  for (const control of controls) {
    const place = control.usual ? by("groups") : by("others");
    const key = `${control.usual} ${control.group}`;
    if (!groups.has(key)) {
      const group = make("fieldset", {}, make("legend", { textContent: control.group }));
      place.append(group);
      groups.set(key, group);
    }
    groups.get(key).append(buildControl(control, moved));
  }
  if (focused) by(focused)?.focus();
}

function buildControl(control, moved) {
  const name = nameOf(control);
  const id = "c-" + name.replace(/[^A-Za-z0-9]+/g, "-");
  const box = make("div", { className: "control", "data-control": name });
  boxes.set(name, box);
  const current = () => box.control ?? control;
  const marks = { "data-parameter": name };
  box.append(make("label", { for: id, textContent: control.label, title: control.words }));
  if (control.choices.length) {
    const select = make("select", { id, ...marks });
    select.append(...control.choices.map((word) => make("option", { value: word, textContent: word })));
    select.addEventListener("change", () => moved(current(), select.value, true));
    box.append(select);
    return box;
  }
  const entry = make("input", { type: "number", step: "any", ...marks });
  entry.addEventListener("change", () => {
    if (entry.value === "") entry.value = current().value;
    else moved(current(), entry.value, true);
  });
  if (control.step !== null) {
    const slider = make("input", { type: "range", id, ...marks });
    slider.addEventListener("input", () => {
      slider.dataset.held = "yes"; // its range must not move under the hand
      entry.value = slider.value;
      slider.setAttribute("aria-valuetext", `${slider.value} ${current().unit}`);
      moved(current(), slider.value, false);
    });
    slider.addEventListener("change", () => {
      delete slider.dataset.held;
      moved(current(), slider.value, true);
    });
    entry.setAttribute("aria-label", `${control.label}, in ${control.unit || "numbers"}`);
    box.append(slider);
  } else entry.id = id;
  box.append(make("span", { className: "entry" }, entry, ` ${control.unit}`));
  return box;
}

/** Change what is not as it should be: most controls stay as they are in a move. */
function updateControl(control, typing) {
  const box = boxes.get(nameOf(control));
  if (!box) return;
  box.control = control;
  for (const field of box.querySelectorAll("input, select")) {
    if (field.dataset.held) continue;
    if (field.type === "range") {
      for (const [mark, value] of [["min", control.least], ["max", control.most], ["step", control.step]])
        if (field[mark] !== String(value)) field[mark] = value;
      setMark(field, "aria-valuetext", `${control.value} ${control.unit}`);
    }
    const written = field !== typing || field.type !== "number";
    if (written && field.value !== String(control.value)) field.value = control.value;
  }
}

/** @param {Element} element @param {string} mark @param {string} value */
function setMark(element, mark, value) {
  if (element.getAttribute(mark) !== value) element.setAttribute(mark, value);
}

/** @param {any[]} offers @param {(offer: any) => void} taken */
export function drawOffers(offers, taken) {
  by("offers").replaceChildren(...offers.map((offer) => {
    const button = make("button", { type: "button", textContent: offer.words, "data-parameter": offer.path });
    button.addEventListener("click", () => taken(offer));
    return button;
  }));
}

const MOST_LAMPS = 40;
const FASTEST_HZ = 2; // of what is drawn: below three flashes a second

/** Show the lamps; those that are there go on in their own time. @param {any[]} lamps */
export function drawLamps(lamps) {
  const drawn = lamps.flatMap((lamp) => Array.from({ length: Math.min(lamp.count, MOST_LAMPS) }, () => lamp))
    .slice(0, MOST_LAMPS);
  const place = by("lamps");
  while (place.children.length > drawn.length) place.lastChild.remove();
  while (place.children.length < drawn.length) place.append(make("span", { className: "lamp" }, make("i")));
  drawn.forEach((lamp, i) => {
    const shown = place.children[i], light = shown.firstChild;
    const way = lamp.rate_Hz && lamp.glow ? (lamp.flashes ? "lamp flashes" : "lamp flickers") : "lamp";
    if (shown.className !== way) shown.className = way;
    light.style.setProperty("--glow", String(lamp.glow));
    light.style.setProperty("--light", LIGHTS[lamp.colour] ?? "#fff");
    light.style.setProperty("--period", `${1 / Math.min(lamp.rate_Hz || 1, FASTEST_HZ)}s`);
    light.style.setProperty("--least", String(lamp.glow_least));
  });
  by("lamps-drawn").textContent = lamps.map((lamp) => lamp.drawn).filter(Boolean).join(" ");
}

const LIGHTS = {
  infrared: "#400", red: "#ff3b30", orange: "#ff8c1a", amber: "#ffb000", yellow: "#ffe04d",
  "yellow-green": "#c5f04d", green: "#3ddc5b", blue: "#4a8cff", white: "#fffdf5",
  "warm white": "#ffe2b0", violet: "#b07cff", ultraviolet: "#7a4dff",
};

/** @param {any[]} results @param {Map<string, any> | null} before */
export function drawFigures(results, before) {
  by("figures").replaceChildren(...results.map((result) => {
    const row = make("tr", {}, make("th", { scope: "row", textContent: result.label }));
    if (before) row.append(make("td", { textContent: before.get(result.name)?.text ?? "–" }));
    row.append(make("td", { textContent: result.text, "data-result": result.name,
      "data-value": JSON.stringify(result.value) }));
    return row;
  }));
}

/** @param {string[]} texts */
export function drawCautions(texts) {
  by("cautions").replaceChildren(...texts.map((text) =>
    make("p", { className: "caution", textContent: `Caution: ${text}` })));
}

/** @param {any[]} meters */
export function drawMeter(meters) {
  const where = by("meter-where"), chosen = where.value;
  const rows = meters.map((row) => row.words);
  if (rows.join("\n") !== where.dataset.rows) {
    where.dataset.rows = rows.join("\n");
    where.replaceChildren(...rows.map((words) => make("option", { value: words, textContent: words })));
    if (rows.includes(chosen)) where.value = chosen;
  }
  const row = meters[rows.indexOf(where.value)];
  const kind = Number(by("meter-kind").value);
  const cell = row?.cells[kind];
  by("reading").textContent = cell?.text ?? "–";
  by("reading").dataset.result = cell?.name ?? "";
  by("reading").dataset.value = JSON.stringify(cell?.value ?? null);
}

/** @type {Map<string, Chart>} */ const charts = new Map();

/** @param {any} waves */
export function drawWaves(waves) {
  for (const [id, key] of [["voltage", "voltage_V"], ["current", "current_mA"]]) {
    const chart = charts.get(id) ?? new Chart(by(id));
    charts.set(id, chart);
    chart.show(waves.time_ms, waves.time_axis, waves[key], waves[`${id}_axis`], waves[`${id}_words`]);
  }
}
