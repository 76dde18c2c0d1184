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
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.draw());
  }

  /** Show a machine, whose fastest rotor turns slowly enough to be followed. */
  show(machine) {
    this.machine = machine;
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
    const looks = getComputedStyle(document.documentElement);
    const scale = (0.46 * Math.min(width, height)) / machine.reach;
    const turns = machine.rotors.map((r) => turnAbout(r, r.ratio * this.crank));
    const view = viewOf(this.yaw, this.pitch);
    const eye = (point) => {
      const p = view(minus(point, machine.middle));
      return [width / 2 + scale * p[0], height / 2 - scale * p[1], scale * p[2]];
    };
    const pieces = [];
    for (const solid of machine.solids) {
      const turn = solid.rotor === null ? (p) => p : turns[solid.rotor];
      const middle = eye(turn(solid.middle));
      for (const face of solid.faces) {
        const seen = face.map((corner) => eye(turn(corner)));
        pieces.push(facePiece(seen, middle, solid.material));
      }
    }
    for (const rod of machine.rods) {
      const turn = rod.rotor === null ? (p) => p : turns[rod.rotor];
      const [a, b] = [eye(turn(rod.start)), eye(turn(rod.end))];
      pieces.push({ depth: (a[2] + b[2]) / 2, seen: [a, b], light: 1, material: rod.material });
    }
    pieces.sort((one, other) => one.depth - other.depth);
    for (const piece of pieces) if (piece.light > 0) paint(pen, piece, looks);
  }
}

const COLOURS = {
  north: "--north", south: "--south", winding: "--winding", iron: "--iron", core: "--iron",
  shaft: "--rod", arm: "--rod",
};

function paint(pen, { seen, light, material }, looks) {
  const colour = looks.getPropertyValue(COLOURS[material] ?? "--rod").trim();
  pen.beginPath();
  seen.forEach(([x, y], i) => (i ? pen.lineTo(x, y) : pen.moveTo(x, y)));
  if (seen.length === 2) {
    pen.strokeStyle = colour;
    pen.lineWidth = material === "shaft" ? 5 : 3;
    pen.stroke();
    return;
  }
  pen.closePath();
  pen.fillStyle = `color-mix(in srgb, ${colour} ${Math.round(100 * light)}%, black)`;
  pen.fill();
  pen.strokeStyle = pen.fillStyle; // closes the seams between neighbours
  pen.lineWidth = 0.6;
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

/** Rotation about a shaft, right-handed about its direction. */
function turnAbout({ through, along }, angle) {
  const length = Math.hypot(...along);
  const [x, y, z] = along.map((a) => a / length);
  const [c, s] = [Math.cos(angle), Math.sin(angle)];
  const k = 1 - c;
  const m = [
    [c + x * x * k, x * y * k - z * s, x * z * k + y * s],
    [y * x * k + z * s, c + y * y * k, y * z * k - x * s],
    [z * x * k - y * s, z * y * k + x * s, c + z * z * k],
  ];
  return (point) => {
    const d = minus(point, through);
    return m.map((row, i) => through[i] + row[0] * d[0] + row[1] * d[1] + row[2] * d[2]);
  };
}

/** From space to right, up, towards the reader. */
function viewOf(yaw, pitch) {
  const [cy, sy, cp, sp] = [Math.cos(yaw), Math.sin(yaw), Math.cos(pitch), Math.sin(pitch)];
  return ([x, y, z]) => {
    const right = cy * x - sy * y;
    const away = sy * x + cy * y;
    return [right, cp * z + sp * away, sp * z - cp * away];
  };
}

/** @param {number[]} a @param {number[]} b @returns {[number, number, number]} */
function minus(a, b) {
  return [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
}
