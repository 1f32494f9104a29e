// Tables of poses (model/posegrid.py): along each drive the cubic through four neighbouring nodes, on levels that grow
// finer where something locks.

/** Codes of cells: below LOOSE one may be read, LOOSE can be reached but not read, from LOCKED on it cannot be reached. */
const LOOSE = 27, LOCKED = 28;
// How far past the end of what can be shown, as a share of a drive's travel, it is looked for a lock, in so many steps.
const NEAR = { share: 0.02, steps: 10 };
// How far before a cell's own first node the first of the four is, by a digit of its code.
const BEFORE = [1, 2, 0];

class Level {
  constructor(data, buffer, width) {
    this.nodes = data.nodes;
    this.low = data.low;
    this.step = data.step;
    this.count = data.count;
    const cells = data.nodes.reduce((all, nodes) => all * (nodes.length - 1), 1);
    this.stored = new Uint16Array(buffer, data.start, data.count * width);
    this.codes = data.codes < 0 ? null : new Uint8Array(buffer, data.codes, cells);
    this.numbers = data.numbers < 0 ? null : summed(new Uint32Array(buffer, data.numbers, data.count));
  }

  /** What is known of the cell that a place lies in. */
  code(at) {
    if (!this.codes) return 0;
    let cell = 0;
    this.nodes.forEach((nodes, k) => { cell = cell * (nodes.length - 1) + cellOf(nodes, at[k]); });
    return this.codes[cell];
  }

  /** Writes the columns of a place in a cell with an open code into `values`. */
  read(at, code, columns, values) {
    let places = [0], weights = [1], digits = code;
    this.nodes.forEach((nodes, k) => {
      const { first, weight } = cubic(nodes, at[k], BEFORE[digits % 3]);
      digits = Math.floor(digits / 3);
      const next = [], heavier = [];
      places.forEach((place, corner) => {
        for (let offset = 0; offset < 4; offset++) {
          next.push(place * nodes.length + first + offset);
          heavier.push(weights[corner] * weight[offset]);
        }
      });
      places = next;
      weights = heavier;
    });
    const rows = this.numbers ? places.map((place) => rowOf(this.numbers, place)) : places;
    for (let k = 0; k < columns.length; k++) {
      const base = k * this.count;
      let sum = 0;
      for (let corner = 0; corner < rows.length; corner++) sum += weights[corner] * this.stored[base + rows[corner]];
      values[columns[k]] = this.low[k] + this.step[k] * sum;
    }
  }
}

/** Tables over the drives with numbers `axes`, the coarsest level first; the last says of every cell what is known. */
class Sheet {
  constructor({ axes, kind, columns, levels }, buffer) {
    Object.assign(this, { axes, kind, columns });
    this.levels = levels.map((level) => new Level(level, buffer, columns.length));
  }

  code(drives) {
    return this.levels[this.levels.length - 1].code(this.axes.map((axis) => drives[axis]));
  }

  read(drives, values) {
    const at = this.axes.map((axis) => drives[axis]);
    for (const level of this.levels) {
      const code = level.code(at);
      if (code < LOOSE) return level.read(at, code, this.columns, values);
    }
    // Of what is only measured nothing is told there; what is pliant stands as it does where the linkage stops.
    if (this.kind === 'lax') for (const column of this.columns) values[column] = NaN;
    else this.levels[0].read(at, 0, this.columns, values);
    return undefined;
  }
}

function summed(steps) {
  let sum = 0;
  return steps.map((step) => { sum += step; return sum; });
}

function rowOf(numbers, number) {
  let low = 0, high = numbers.length - 1;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (numbers[middle] < number) low = middle + 1;
    else high = middle;
  }
  return low;
}

function cellOf(nodes, at) {
  let low = 0, high = nodes.length - 2;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (nodes[middle] <= at) low = middle;
    else high = middle - 1;
  }
  return low;
}

function cubic(nodes, at, before) {
  const first = Math.min(Math.max(cellOf(nodes, at) - before, 0), nodes.length - 4);
  const weight = [1, 1, 1, 1];
  for (let one = 0; one < 4; one++) {
    for (let other = 0; other < 4; other++) {
      if (one === other) continue;
      weight[one] *= (at - nodes[first + other]) / (nodes[first + one] - nodes[first + other]);
    }
  }
  return { first, weight };
}

/** All tables of a scene. */
export class Tables {
  constructor(data, buffer) {
    this.sheets = data.sheets.map((sheet) => new Sheet(sheet, buffer));
    this.exact = this.sheets.filter((sheet) => sheet.kind === 'exact');
    this.causes = data.causes;
    this.ranges = data.drives.map(({ low, high }) => high - low);
    this.width = data.columns;
    const measured = new Set(data.measures.map((measure) => measure.column));
    this.measured = this.sheets.filter((sheet) => sheet.columns.some((column) => measured.has(column)));
  }

  /** Whether a pose can be reached and shown. */
  open(drives) {
    return this.exact.every((sheet) => sheet.code(drives) < LOOSE);
  }

  /** Why a pose cannot be shown: whether the linkage locks, and by which members. */
  barred(drives) {
    const codes = this.exact.map((sheet) => sheet.code(drives)).filter((code) => code >= LOCKED);
    return { locked: codes.length > 0, members: [...new Set(codes.flatMap((code) => this.causes[code - LOCKED]))] };
  }

  /** Every column of a pose. */
  read(drives, values = new Float64Array(this.width)) {
    for (const sheet of this.sheets) sheet.read(drives, values);
    return values;
  }

  /** Only what is measured. */
  readMeasured(drives, values) {
    for (const sheet of this.measured) sheet.read(drives, values);
    return values;
  }

  /** The last pose on the way from one that can be shown to another, and why it is not the whole way: null if it is. */
  furthest(from, to) {
    const between = (share) => from.map((value, k) => value + share * (to[k] - value));
    const STEPS = 64;
    let good = 0, bad = null;
    for (let step = 1; step <= STEPS && bad === null; step++) {
      if (this.open(between(step / STEPS))) good = step / STEPS;
      else bad = step / STEPS;
    }
    if (bad === null) return { drives: to, barred: null };
    for (let turn = 0; turn < 20; turn++) {
      const middle = 0.5 * (good + bad);
      if (this.open(between(middle))) good = middle;
      else bad = middle;
    }
    const barred = this.barred(between(bad));
    if (barred.locked) return { drives: between(good), barred };
    // Where the tables end just before a lock, that lock is what bars the way.
    const span = Math.max(...from.map((value, k) => Math.abs(to[k] - value) / this.ranges[k]));
    for (let step = 1; step <= NEAR.steps; step++) {
      const beyond = this.barred(between(bad + (step * NEAR.share) / NEAR.steps / span));
      if (beyond.locked) return { drives: between(good), barred: { ...beyond, near: true } };
    }
    return { drives: between(good), barred };
  }
}
