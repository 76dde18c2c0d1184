// Puts an answer on the page. All words and numbers come from the server; nothing is worked out here.

/** @param {string} id @returns {any} */
export const by = (id) => document.getElementById(id);

/**
 * A new element; of many kinds, so that its type says little.
 * @param {string} tag
 * @param {Record<string, unknown>} [with_]
 * @param {(Node|string)[]} children
 * @returns {any}
 */
export function make(tag, with_ = {}, ...children) {
  /** @type {any} */ const made = document.createElement(tag);
  for (const [name, value] of Object.entries(with_)) {
    if (name.startsWith("data-") || name.startsWith("aria-") || name === "for" || name === "scope")
      made.setAttribute(name, String(value));
    else made[name] = value;
  }
  made.append(...children);
  return made;
}

/** What identifies a control on the page. */
const nameOf = (control) => control.paths.join(" ");

/**
 * Show the controls, keeping those that are there so that a hand on one is not disturbed.
 * @param {any[]} controls
 * @param {(control: any, value: string, settled: boolean) => void} moved
 */
export function drawControls(controls, moved) {
  const wanted = controls.map(nameOf).join("\n");
  if (by("groups").dataset.names !== wanted) {
    by("groups").dataset.names = wanted;
    buildControls(controls, moved);
  }
  for (const control of controls) updateControl(control);
}

function buildControls(controls, moved) {
  const focused = document.activeElement?.id;
  by("groups").replaceChildren();
  by("others").replaceChildren();
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
  entry.addEventListener("change", () => entry.value !== "" && moved(current(), entry.value, true));
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

function updateControl(control) {
  const wanted = `[data-control="${CSS.escape(nameOf(control))}"]`;
  /** @type {any} */ const box = document.querySelector(wanted);
  if (!box) return;
  box.control = control;
  for (const field of box.querySelectorAll("input, select")) {
    if (field.dataset.held) continue;
    if (field.type === "range") {
      field.min = control.least;
      field.max = control.most;
      field.step = control.step;
      field.setAttribute("aria-valuetext", `${control.value} ${control.unit}`);
    }
    if (field !== document.activeElement || field.type !== "number") field.value = control.value;
  }
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

/** @param {any[]} lamps */
export function drawLamps(lamps) {
  const drawn = lamps.flatMap((lamp) => Array.from({ length: Math.min(lamp.count, MOST_LAMPS) }, () => lamp));
  by("lamps").replaceChildren(...drawn.slice(0, MOST_LAMPS).map((lamp) => {
    const light = make("i");
    const glow = lamp.glow;
    light.style.setProperty("--glow", String(glow));
    light.style.setProperty("--light", LIGHTS[lamp.colour] ?? "#fff");
    const shown = make("span", { className: "lamp" }, light);
    if (lamp.rate_Hz && glow) {
      shown.classList.add(lamp.flashes ? "flashes" : "flickers");
      light.style.setProperty("--period", `${1 / Math.min(lamp.rate_Hz, FASTEST_HZ)}s`);
      light.style.setProperty("--least", String(lamp.glow_least));
    }
    return shown;
  }));
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
  where.replaceChildren(...meters.map((row, i) =>
    make("option", { value: String(i), textContent: row.words })));
  if (chosen && Number(chosen) < meters.length) where.value = chosen;
  const row = meters[Number(where.value)];
  const kind = Number(by("meter-kind").value);
  const cell = row?.cells[kind];
  by("reading").textContent = cell?.text ?? "–";
  by("reading").dataset.result = cell?.name ?? "";
  by("reading").dataset.value = JSON.stringify(cell?.value ?? null);
}

/** @param {any} waves */
export function drawWaves(waves) {
  const looks = getComputedStyle(document.documentElement);
  const colour = (name) => looks.getPropertyValue(name).trim();
  const lines = ["#d9730d", "#2a78c2", "#3aa394", "#b04a7a", "#8a7a1f", "#7d7d7d"];
  const dashes = ["solid", "dash", "dot", "dashdot", "longdash", "solid"];
  for (const [id, key, title] of [["voltage", "voltage_V", "voltage [V]"], ["current", "current_mA", "current [mA]"]]) {
    const series = waves[key];
    by(id).hidden = !series.length;
    if (!series.length) continue;
    by(id).setAttribute("aria-label", waves[`${id}_words`]);
    const traces = series.map((of, i) => ({
      x: waves.time_ms, y: of.values, name: of.name, mode: "lines",
      line: { color: lines[i % 6], dash: dashes[i % 6], width: 2 },
    }));
    const axis = { gridcolor: colour("--line"), zerolinecolor: colour("--soft"), color: colour("--ink") };
    /** @type {any} */ (globalThis).Plotly?.react(by(id), traces, {
      margin: { l: 52, r: 8, t: 6, b: 36 }, showlegend: series.length > 1,
      paper_bgcolor: "rgba(0,0,0,0)", plot_bgcolor: "rgba(0,0,0,0)", font: { color: colour("--ink"), size: 12 },
      xaxis: { ...axis, title: { text: "time [ms]" } }, yaxis: { ...axis, title: { text: title } },
    }, { displayModeBar: false, responsive: true, staticPlot: true });
  }
}
