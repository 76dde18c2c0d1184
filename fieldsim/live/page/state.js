// What the page holds: the machine's text, the changes not yet folded into it, the speed; its past.

/** @typedef {{text: string, changes: Record<string, unknown>, crank_rpm: number}} Work */

const PAST = 200;

export class History {
  /** @param {Work} work */
  constructor(work) {
    this.now = work;
    /** @type {Work[]} */ this.past = [];
    /** @type {Work[]} */ this.future = [];
  }

  /** Remember where we are as a step to come back to. */
  mark() {
    this.past.push(this.now);
    if (this.past.length > PAST) this.past.shift();
    this.future = [];
  }

  /** @param {Work} work */
  replace(work) {
    this.now = work;
  }

  undo() {
    const before = this.past.pop();
    if (!before) return;
    this.future.push(this.now);
    this.now = before;
  }

  redo() {
    const after = this.future.pop();
    if (!after) return;
    this.past.push(this.now);
    this.now = after;
  }
}

/** A name of this page that nobody guesses; a copy of its tab has another. */
export function visitor() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return [...bytes].map((b) => b.toString(16).padStart(2, "0")).join("");
}

/** @param {Uint8Array<ArrayBuffer>} bytes @param {"compress" | "expand"} way */
async function through(bytes, way) {
  const stream = way === "compress" ? new CompressionStream("deflate-raw")
    : new DecompressionStream("deflate-raw");
  const body = new Response(new Blob([bytes]).stream().pipeThrough(stream));
  return new Uint8Array(await body.arrayBuffer());
}

/** What stands behind the # of a link to a machine. @param {Work} work */
export async function linkText(work) {
  const text = JSON.stringify({ text: work.text, crank_rpm: work.crank_rpm });
  const packed = await through(new TextEncoder().encode(text), "compress");
  const letters = btoa(Array.from(packed, (b) => String.fromCharCode(b)).join(""));
  return "m=" + letters.replaceAll("+", "-").replaceAll("/", "_").replace(/=+$/, "");
}

/** The machine of a link, or null if it is none. @param {string} link @returns {Promise<Work|null>} */
export async function machineOfLink(link) {
  const found = /(?:^|#)m=([A-Za-z0-9_-]+)\s*$/.exec(link);
  if (!found) return null;
  try {
    const letters = atob(found[1].replaceAll("-", "+").replaceAll("_", "/"));
    const bytes = Uint8Array.from(letters, (c) => c.charCodeAt(0));
    const sent = JSON.parse(new TextDecoder().decode(await through(bytes, "expand")));
    if (typeof sent.text !== "string" || typeof sent.crank_rpm !== "number") return null;
    return { text: sent.text, changes: {}, crank_rpm: sent.crank_rpm };
  } catch {
    return null;
  }
}
