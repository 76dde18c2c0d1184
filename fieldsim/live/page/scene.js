// The machine in space on a canvas: faces turned, sorted by distance and filled.

const SLOWEST_TURN_S = 5; // of the fastest rotor as it is drawn
const FRAME_MS = 33;

export class Scene {
  /** @param {HTMLCanvasElement} canvas */
  constructor(canvas) {
    this.canvas = canvas;
    this.yaw = -0.6;
    this.pitch = 0.45;
    this.crank = 0; // angle [rad]
    this.turning = !matchMedia("(prefers-reduced-motion: reduce)").matches;
    /** @type {any} */ this.machine = null;
    this.last = 0;
    /** @type {(() => void) | null} */ this.moved = null;
    canvas.addEventListener("pointerdown", (event) => this.#drag(event));
    canvas.addEventListener("keydown", (event) => this.#key(event));
    new ResizeObserver(() => this.draw()).observe(canvas);
    this.colours = new Colours();
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => {
      this.colours = new Colours();
      this.draw();
    });
  }

  /** Show a machine, whose fastest rotor turns slowly enough to be followed. */
  show(machine) {
    this.machine = machine;
    this.solids = machine.solids.map((solid) => inSpace(solid, machine.shapes[solid.shape]));
    this.draw();
  }

  /** How many times slower than real it is drawn. @param {number} rpm */
  slower(rpm) {
    const fastest = Math.max(1e-9, ...this.machine.rotors.map((r) => Math.abs(r.ratio)));
    return Math.max(1, (Math.abs(rpm) / 60) * fastest * SLOWEST_TURN_S);
  }

  /** @param {number} now [ms] @param {number} rpm */
  tick(now, rpm) {
    if (now - this.last < FRAME_MS) return;
    const step = Math.min(now - this.last, 200) / 1000;
    this.last = now;
    if (!this.turning || !this.machine) return;
    this.crank += (step * (rpm / 60) * 2 * Math.PI) / this.slower(rpm);
    this.draw();
  }

  /** Look from a direction. @param {number} yaw @param {number} pitch */
  look(yaw, pitch) {
    this.yaw = yaw;
    this.pitch = Math.max(-Math.PI / 2, Math.min(Math.PI / 2, pitch));
    this.draw();
    this.moved?.();
  }

  #drag(event) {
    this.canvas.setPointerCapture(event.pointerId);
    let [x, y] = [event.clientX, event.clientY];
    const move = (at) => {
      this.look(this.yaw + (at.clientX - x) * 0.01, this.pitch + (at.clientY - y) * 0.01);
      [x, y] = [at.clientX, at.clientY];
    };
    this.canvas.addEventListener("pointermove", move);
    const end = () => this.canvas.removeEventListener("pointermove", move);
    this.canvas.addEventListener("pointerup", end, { once: true });
    this.canvas.addEventListener("pointercancel", end, { once: true });
  }

  #key(event) {
    const steps = { ArrowLeft: [-0.15, 0], ArrowRight: [0.15, 0], ArrowUp: [0, 0.15], ArrowDown: [0, -0.15] };
    const step = steps[event.key];
    if (!step) return;
    event.preventDefault();
    this.look(this.yaw + step[0], this.pitch + step[1]);
  }

  draw() {
    const { canvas, machine } = this;
    const ratio = devicePixelRatio || 1;
    const [width, height] = [canvas.clientWidth, canvas.clientHeight];
    if (!machine || !width) return;
    if (canvas.width !== Math.round(width * ratio) || canvas.height !== Math.round(height * ratio)) {
      canvas.width = Math.round(width * ratio);
      canvas.height = Math.round(height * ratio);
    }
    const pen = canvas.getContext("2d");
    if (!pen) return;
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.clearRect(0, 0, width, height);
    const scale = (0.46 * Math.min(width, height)) / machine.reach;
    const view = viewOf(this.yaw, this.pitch, scale, machine.middle, [width / 2, height / 2]);
    const turns = machine.rotors.map((r) => after(view, turnAbout(r, r.ratio * this.crank)));
    const pieces = [];
    for (const { solid, middle, faces } of this.solids) {
      const eye = solid.rotor === null ? view : turns[solid.rotor];
      const inside = seenAt(eye, middle);
      for (const face of faces) {
        const piece = facePiece(face.map((corner) => seenAt(eye, corner)), inside, solid.material);
        if (piece.light > 0) pieces.push(piece);
      }
    }
    for (const rod of machine.rods) {
      const eye = rod.rotor === null ? view : turns[rod.rotor];
      const [a, b] = [seenAt(eye, rod.start), seenAt(eye, rod.end)];
      pieces.push({ depth: (a[2] + b[2]) / 2, seen: [a, b], light: 1, material: rod.material });
    }
    pieces.sort((one, other) => one.depth - other.depth);
    for (const piece of pieces) paint(pen, piece, this.colours);
  }
}

/** A solid with its corners where they are while the crank stands at zero. */
function inSpace(solid, shape) {
  const [x, y, z] = solid.axes.map((row, i) => [...row, solid.centre[i]]);
  const there = [x, y, z];
  return { solid, middle: seenAt(there, shape.middle),
    faces: shape.faces.map((face) => face.map((corner) => seenAt(there, corner))) };
}

const COLOURS = {
  north: "--north", south: "--south", winding: "--winding", iron: "--iron", shaft: "--rod", arm: "--rod",
};

/** What each material looks like in each light, worked out once. */
class Colours {
  constructor() {
    this.looks = getComputedStyle(document.documentElement);
    /** @type {Map<string, string>} */ this.known = new Map();
  }

  /** @param {string} material @param {number} light from 0 to 1 */
  of(material, light) {
    const share = Math.round(100 * light), key = `${material} ${share}`;
    let found = this.known.get(key);
    if (!found) {
      const plain = this.looks.getPropertyValue(COLOURS[material] ?? "--rod").trim();
      const [r, g, b] = [1, 3, 5].map((i) => Math.round((parseInt(plain.slice(i, i + 2), 16) * share) / 100));
      found = `rgb(${r}, ${g}, ${b})`;
      this.known.set(key, found);
    }
    return found;
  }
}

function paint(pen, { seen, light, material }, colours) {
  const colour = colours.of(material, light);
  pen.beginPath();
  seen.forEach(([x, y], i) => (i ? pen.lineTo(x, y) : pen.moveTo(x, y)));
  pen.strokeStyle = colour;
  if (seen.length === 2) {
    pen.lineWidth = material === "shaft" ? 5 : 3;
    pen.stroke();
    return;
  }
  pen.closePath();
  pen.fillStyle = colour;
  pen.fill();
  pen.lineWidth = 0.6; // closes the seams between neighbours
  pen.stroke();
}

/** A face as it is seen; without light if it looks away. */
function facePiece(seen, middle, material) {
  const [a, b, c] = [seen[0], seen[1], seen[Math.floor(seen.length * 0.67)] ?? seen[2]];
  const u = minus(b, a), v = minus(c, a);
  let normal = [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]];
  const depth = seen.reduce((sum, p) => sum + p[2], 0) / seen.length;
  const out = [a[0] - middle[0], a[1] - middle[1], a[2] - middle[2]];
  if (normal[0] * out[0] + normal[1] * out[1] + normal[2] * out[2] < 0) normal = normal.map((x) => -x);
  const length = Math.hypot(...normal) || 1;
  const facing = normal[2] / length;
  const light = facing <= 0 ? 0 : 0.55 + 0.3 * facing + 0.15 * Math.max(0, -normal[1] / length);
  return { depth, seen, light, material };
}

/**
 * A move in space: three rows of a turn, and how far it shifts.
 * @typedef {number[][]} Move
 */

/** Where a move takes a point. @param {Move} move @param {number[]} point */
function seenAt([a, b, c], [x, y, z]) {
  return [
    a[0] * x + a[1] * y + a[2] * z + a[3],
    b[0] * x + b[1] * y + b[2] * z + b[3],
    c[0] * x + c[1] * y + c[2] * z + c[3],
  ];
}

/** One move after another. @param {Move} last @param {Move} first @returns {Move} */
function after(last, first) {
  return last.map((row) => [0, 1, 2, 3].map((j) =>
    row[0] * first[0][j] + row[1] * first[1][j] + row[2] * first[2][j] + (j === 3 ? row[3] : 0)));
}

/** Rotation about a shaft, right-handed about its direction. @returns {Move} */
function turnAbout({ through, along }, angle) {
  const length = Math.hypot(...along);
  const [x, y, z] = along.map((a) => a / length);
  const [c, s] = [Math.cos(angle), Math.sin(angle)];
  const k = 1 - c;
  const turn = [
    [c + x * x * k, x * y * k - z * s, x * z * k + y * s],
    [y * x * k + z * s, c + y * y * k, y * z * k - x * s],
    [z * x * k - y * s, z * y * k + x * s, c + z * z * k],
  ];
  return turn.map((row, i) =>
    [...row, through[i] - row[0] * through[0] - row[1] * through[1] - row[2] * through[2]]);
}

/**
 * From space to places on the canvas: right, down, and towards the reader.
 * @param {number} yaw @param {number} pitch @param {number} scale
 * @param {number[]} middle @param {number[]} centre @returns {Move}
 */
function viewOf(yaw, pitch, scale, middle, centre) {
  const [cy, sy, cp, sp] = [Math.cos(yaw), Math.sin(yaw), Math.cos(pitch), Math.sin(pitch)];
  const rows = [[cy, -sy, 0], [-sp * sy, -sp * cy, -cp], [-cp * sy, -cp * cy, sp]];
  return rows.map((row, i) => {
    const [x, y, z] = row.map((each) => scale * each);
    return [x, y, z, (centre[i] ?? 0) - x * middle[0] - y * middle[1] - z * middle[2]];
  });
}

/** @param {number[]} a @param {number[]} b @returns {[number, number, number]} */
function minus(a, b) {
  return [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
}
