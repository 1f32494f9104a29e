// Tables of poses (model/posegrid.py): along each drive the cubic through the four nearest nodes.

/** One table, over the drives with numbers `axes`. */
class Sheet {
  constructor(data, buffer) {
    Object.assign(this, data);
    this.counts = this.nodes.map((nodes) => nodes.length);
    this.size = this.counts.reduce((all, count) => all * count, 1);
    this.numbers = new Uint16Array(buffer, this.start, this.size * this.columns.length);
    this.shut = new Set(data.shut);
  }

  /** Whether the cell that a pose lies in may be read. */
  open(drives) {
    if (!this.shut.size) return true;
    let cell = 0;
    this.axes.forEach((axis, k) => {
      cell = cell * (this.counts[k] - 1) + cellOf(this.nodes[k], drives[axis]);
    });
    return !this.shut.has(cell);
  }

  /** Writes this table's columns of a pose into `values`. */
  read(drives, values) {
    let places = [0], weights = [1];
    this.axes.forEach((axis, k) => {
      const { first, weight } = cubic(this.nodes[k], drives[axis]), count = this.counts[k];
      const next = [], heavier = [];
      places.forEach((place, corner) => {
        for (let offset = 0; offset < 4; offset++) {
          next.push(place * count + first + offset);
          heavier.push(weights[corner] * weight[offset]);
        }
      });
      places = next;
      weights = heavier;
    });
    for (let k = 0; k < this.columns.length; k++) {
      const base = k * this.size;
      let sum = 0;
      for (let corner = 0; corner < places.length; corner++) sum += weights[corner] * this.numbers[base + places[corner]];
      values[this.columns[k]] = this.low[k] + this.step[k] * sum;
    }
  }
}

function cellOf(nodes, at) {
  let cell = 0;
  while (cell < nodes.length - 2 && at >= nodes[cell + 1]) cell++;
  return cell;
}

function cubic(nodes, at) {
  const first = Math.min(Math.max(cellOf(nodes, at) - 1, 0), nodes.length - 4);
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
    this.width = data.columns;
    const measured = new Set(data.measures.map((measure) => measure.column));
    this.measured = this.sheets.filter((sheet) => sheet.columns.some((column) => measured.has(column)));
  }

  /** Whether a pose can be reached and shown. */
  open(drives) {
    return this.sheets.every((sheet) => sheet.open(drives));
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

  /** The last pose on the way from one that can be shown to another, and whether that is the whole way. */
  furthest(from, to) {
    const between = (share) => from.map((value, k) => value + share * (to[k] - value));
    const STEPS = 64;
    let good = 0, bad = null;
    for (let step = 1; step <= STEPS && bad === null; step++) {
      if (this.open(between(step / STEPS))) good = step / STEPS;
      else bad = step / STEPS;
    }
    if (bad === null) return { drives: to, whole: true };
    for (let turn = 0; turn < 20; turn++) {
      const middle = 0.5 * (good + bad);
      if (this.open(between(middle))) good = middle;
      else bad = middle;
    }
    return { drives: between(good), whole: false };
  }
}
