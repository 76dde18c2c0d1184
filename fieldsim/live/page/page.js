// Listens to the controls, asks the server, and shows what it answers.

import { drawCautions, drawControls, drawFigures, drawLamps, drawMeter, drawOffers, drawWaves } from "./draw.js";
import { by, make } from "./make.js";
import { Scene } from "./scene.js";
import { History, linkText, machineOfLink, visitor } from "./state.js";

const KEY = document.body.dataset.key;
const VISITOR = visitor();
const PAUSE_MS = 250; // without a move before meters are read
const REST_MS = 400; // before what takes longer is asked
const AGAIN_MS = 1000; // until a lost connection is tried again
const LARGEST = 200_000; // bytes of a text as it is sent
const MOST_WORDS = 300; // of a refusal that are shown

const TOO_LARGE = "this is larger than any machine";

/** @type {History} */ let history;
const scene = new Scene(by("scene"));
const beforeScene = new Scene(by("before-scene"));
/** The last answers by part. */
let shown = /** @type {Record<"light" | "meters" | "effort" | "iron", any>} */ (
  { light: null, meters: null, effort: null, iron: null });
/** @type {{work: any, results: Map<string, any>, scene: any} | null} */ let before = null;
let asking = false;
/** @type {{work: any, began: number} | null} */ let next = null;
let held = false; // whether the present move is still under the hand
let last = ""; // what was moved
let moves = 0;
let resting = 0;
let reading = 0;

/** Send a question. @param {string} path @param {object} body */
async function post(path, body) {
  for (;;) {
    try {
      const response = await fetch(path, {
        method: "POST", body: JSON.stringify(body),
        headers: { "content-type": "application/json", "x-fieldsim-key": KEY ?? "" },
      });
      if (by("trouble").dataset.lost) trouble("");
      return response;
    } catch {
      trouble("The connection is lost; trying again.");
      by("trouble").dataset.lost = "yes";
      await new Promise((done) => setTimeout(done, AGAIN_MS));
    }
  }
}

/** @param {string} part @param {any} work */
async function ask(part, work) {
  const response = await post("/answer", { ...work, part, visitor: VISITOR });
  return told(response);
}

/** What a response says; where the server refused it, that is the problem. @param {Response} response */
async function told(response) {
  if (response.headers.get("content-type")?.startsWith("application/json")) return response.json();
  const words = (await response.text()).slice(0, MOST_WORDS);
  return { problem: { words: words || `the program answers with an error (${response.status})` } };
}

/** Show what is wrong, or nothing. @param {string} words */
function trouble(words) {
  delete by("trouble").dataset.lost;
  by("trouble").textContent = words;
  by("trouble").hidden = !words;
}

/** A control was moved: the newest question takes the place of one that waits. */
function move(changes, rpm, settled) {
  const move = JSON.stringify([changes, rpm]);
  const again = held && move === last && by("trouble").hidden;
  if (!held) history.mark();
  held = !settled;
  last = move;
  if (again) return; // let go where it is: that has been asked already
  const now = history.now;
  history.replace({ ...now, changes: { ...now.changes, ...changes }, crank_rpm: rpm ?? now.crank_rpm });
  request();
}

function request() {
  moves += 1;
  clearTimeout(resting);
  clearTimeout(reading);
  next = { work: history.now, began: performance.now() };
  document.querySelector("main")?.classList.add("waiting");
  if (!asking) void run();
}

async function run() {
  asking = true;
  while (next) {
    const { work, began } = next;
    next = null;
    const answer = await ask("light", work);
    show(answer, work);
    performance.measure("answer", { start: began, end: performance.now() });
  }
  asking = false;
  document.querySelector("main")?.classList.remove("waiting");
  clearTimeout(reading);
  reading = setTimeout(() => void readMeters(moves), PAUSE_MS);
  resting = setTimeout(() => void rest(moves), REST_MS);
}

/** Show an answer, and fold its changes into the text where it is of the newest machine. */
function show(answer, work) {
  if (answer.text !== undefined) {
    if (history.now === work) {
      history.now = { text: answer.text, changes: {}, crank_rpm: work.crank_rpm };
      sessionStorage.setItem(`work ${KEY}`, JSON.stringify(history.now));
    }
    document.title = `${answer.title} – fieldsim`;
    by("title").textContent = answer.title;
    drawControls(answer.controls, moved);
    drawOffers(answer.offers, (offer) => move({ [offer.path]: offer.value }, null, true));
    scene.show(answer.scene);
    sceneWords();
  } else if (answer.problem && history.now === work && !held) {
    history.undo(); // no such machine: the control springs back
    if (shown.light) drawControls(shown.light.controls, moved, null);
  }
  by("rpm").value = by("rpm-slider").value = String(history.now.crank_rpm);
  by("undo").disabled = !history.past.length;
  by("redo").disabled = !history.future.length;
  if (answer.problem) {
    trouble(answer.problem.words);
    return;
  }
  trouble("");
  shown = { light: answer, meters: null, effort: null, iron: null };
  by("verdict").textContent = answer.verdict;
  by("crank").textContent = "";
  drawLamps(answer.lamps);
  drawFigures(answer.results, before?.results ?? null);
  drawCautions(answer.cautions);
  drawWaves(answer.waves);
  by("advice-state").textContent = "Coming when your hand rests.";
  by("steps").replaceChildren();
}

/** What meters show, as soon as no move waits. @param {number} asked */
async function readMeters(asked) {
  if (!shown.light || !by("trouble").hidden) return;
  const meters = await ask("meters", history.now);
  if (asked !== moves || meters.problem || !meters.meters) return;
  shown.meters = meters;
  drawMeter(meters.meters);
  drawAllCautions();
}

function drawAllCautions() {
  const texts = Object.values(shown).flatMap((answer) => answer?.cautions ?? []);
  drawCautions([...new Set(texts)]);
}

/** The hand rests: what takes longer. @param {number} asked */
async function rest(asked) {
  const work = history.now;
  if (!shown.light || !by("trouble").hidden) return;
  by("said").textContent = shown.light.verdict;
  by("advice-state").textContent = "Being worked out.";
  const effort = await ask("effort", work);
  if (asked !== moves) return;
  if (effort.problem) by("crank").textContent = effort.problem.words;
  else {
    shown.effort = effort;
    by("crank").textContent = effort.crank;
    drawFigures([...shown.light.results, ...effort.results], before?.results ?? null);
    drawAllCautions();
  }
  const iron = await ask("iron", work);
  if (asked !== moves) return;
  shown.iron = iron;
  drawAllCautions();
  const advice = await ask("advice", work);
  if (asked !== moves) return;
  by("advice-state").textContent = advice.problem ? advice.problem.words : advice.words;
  by("steps").replaceChildren(...(advice.steps ?? []).map((step) =>
    make("li", { textContent: `${step.words}: ${step.gain} ${advice.kind}` })));
}

/** @param {any} control @param {string} value @param {boolean} settled */
function moved(control, value, settled) {
  const text = control.choices.length ? value
    : control.unit === "AWG" ? `AWG ${Math.round(Number(value))}`
    : control.unit ? `${value} ${control.unit}` : control.whole ? String(Math.round(Number(value))) : value;
  move(Object.fromEntries(control.paths.map((path) => [path, text])), null, settled);
}

function sceneWords() {
  const times = scene.machine ? scene.slower(history.now.crank_rpm) : 1;
  by("scene-words").textContent = `drawn ${Math.round(times)} times slower than it turns`;
}

function restore() {
  held = false;
  request();
}

/** @param {any} work */
function load(work) {
  history.mark();
  history.replace(work);
  restore();
}

function speedMoved(value, settled) {
  const rpm = Number(value);
  if (Number.isFinite(rpm) && rpm !== 0) move({}, rpm, settled);
}

function compare() {
  if (!shown.light) return;
  const results = [...shown.light.results, ...(shown.effort?.results ?? [])];
  before = { work: history.now, results: new Map(results.map((r) => [r.name, r])), scene: shown.light.scene };
  beforeScene.show(before.scene);
  beside();
}

function beside() {
  for (const id of ["before-head", "before-buttons", "before-figure"]) by(id).hidden = !before;
  if (shown.light)
    drawFigures([...shown.light.results, ...(shown.effort?.results ?? [])], before?.results ?? null);
  if (before) beforeScene.draw();
}

async function useText() {
  const text = by("text").value;
  if (new TextEncoder().encode(JSON.stringify(text)).length > LARGEST) {
    by("text-problems").replaceChildren(problemItem({ words: TOO_LARGE }));
    return;
  }
  const linked = await machineOfLink(text);
  const work = linked ?? { text, changes: {}, crank_rpm: history.now.crank_rpm };
  const answer = await ask("light", work);
  by("text-problems").replaceChildren();
  if (answer.text === undefined) {
    const problems = answer.problem.lines ?? [answer.problem];
    by("text-problems").append(...problems.map(problemItem));
    return;
  }
  by("text-dialog").close();
  load(work);
}

/**
 * A problem of the text, as a button that goes to its line.
 * @param {{line?: number, key?: string, words: string}} problem
 */
function problemItem({ line, key, words }) {
  const where = line ? `line ${line}${key ? `, ${key}` : ""}: ` : "";
  const button = make("button", { type: "button", textContent: where + words });
  button.addEventListener("click", () => {
    const lines = by("text").value.split("\n");
    const start = lines.slice(0, (line ?? 1) - 1).reduce((sum, each) => sum + each.length + 1, 0);
    by("text").focus();
    by("text").setSelectionRange(start, start + (lines[(line ?? 1) - 1]?.length ?? 0));
  });
  return make("li", {}, button);
}

async function takeAway(name) {
  by("file-state").textContent = `${name} is being made.`;
  const response = await post(`/file/${name}`, { ...history.now, visitor: VISITOR });
  if (!response.ok) {
    by("file-state").textContent = (await told(response)).problem.words;
    return;
  }
  const url = URL.createObjectURL(await response.blob());
  make("a", { href: url, download: name }).click();
  URL.revokeObjectURL(url);
  by("file-state").textContent = `${name} is in your downloads.`;
}

function listen() {
  by("rpm-slider").addEventListener("input", () => speedMoved(by("rpm-slider").value, false));
  by("rpm-slider").addEventListener("change", () => speedMoved(by("rpm-slider").value, true));
  by("rpm").addEventListener("change", () => speedMoved(by("rpm").value, true));
  by("undo").addEventListener("click", () => { history.undo(); restore(); });
  by("redo").addEventListener("click", () => { history.redo(); restore(); });
  document.addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.target instanceof HTMLTextAreaElement) return;
    if (event.key === "z") { event.preventDefault(); (event.shiftKey ? by("redo") : by("undo")).click(); }
    if (event.key === "y") { event.preventDefault(); by("redo").click(); }
  });
  by("keep").addEventListener("click", compare);
  by("back").addEventListener("click", () => before && load(before.work));
  by("forget").addEventListener("click", () => { before = null; beside(); });
  by("turning").addEventListener("click", () => {
    scene.turning = beforeScene.turning = !scene.turning;
    by("turning").setAttribute("aria-pressed", String(scene.turning));
  });
  by("from-side").addEventListener("click", () => scene.look(0, 0));
  by("from-shaft").addEventListener("click", () => scene.look(Math.PI / 2, 0));
  by("from-above").addEventListener("click", () => scene.look(0, Math.PI / 2));
  scene.moved = () => beforeScene.look(scene.yaw, scene.pitch);
  for (const id of ["meter-kind", "meter-where"])
    by(id).addEventListener("change", () => shown.meters && drawMeter(shown.meters.meters));
  by("open").addEventListener("click", () => {
    by("text").value = history.now.text;
    by("text-problems").replaceChildren();
    by("text-dialog").showModal();
  });
  by("kind").addEventListener("change", async () => {
    if (!by("kind").value) return;
    const response = await post(`/begin/${by("kind").value}`, { visitor: VISITOR });
    const { text, problem } = await told(response);
    if (text !== undefined) by("text").value = text;
    by("text-problems").replaceChildren(...(problem ? [problemItem(problem)] : []));
  });
  by("use-text").addEventListener("click", () => void useText());
  by("upload").addEventListener("change", async () => {
    const file = by("upload").files[0];
    if (file && file.size <= LARGEST) { by("text").value = await file.text(); await useText(); }
    else if (file) by("text-problems").replaceChildren(problemItem({ words: TOO_LARGE }));
    by("upload").value = ""; // so that the same file can be chosen again once it is mended
  });
  by("take").addEventListener("click", async () => {
    by("file-state").textContent = "";
    by("link").value = `${location.origin}/?key=${KEY}#${await linkText(history.now)}`;
    by("take-dialog").showModal();
  });
  for (const button of by("files").querySelectorAll("[data-file]"))
    button.addEventListener("click", () => void takeAway(button.dataset.file));
  for (const button of document.querySelectorAll("dialog .close"))
    button.addEventListener("click", () => button.closest("dialog")?.close());
  by("stop")?.addEventListener("click", async () => {
    const answer = await told(await post("/stop", { visitor: VISITOR }));
    if (answer.problem) { trouble(answer.problem.words); return; }
    clearTimeout(resting);
    clearTimeout(reading);
    document.body.replaceChildren(make("p", { textContent: "fieldsim has ended; this page can be closed." }));
  });
  addEventListener("hashchange", () => void machineOfLink(location.hash).then((work) => work && load(work)));
}

async function start() {
  const kept = sessionStorage.getItem(`work ${KEY}`);
  const linked = await machineOfLink(location.hash);
  const first = { text: by("text").value, changes: {}, crank_rpm: 90 };
  history = new History(linked ?? (kept ? JSON.parse(kept) : first));
  by("turning").setAttribute("aria-pressed", String(scene.turning));
  listen();
  request();
  const frame = (now) => {
    scene.tick(now, history.now.crank_rpm);
    beforeScene.crank = scene.crank;
    if (before && scene.turning) beforeScene.draw();
    requestAnimationFrame(frame);
  };
  requestAnimationFrame(frame);
}

void start();
