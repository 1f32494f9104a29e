// Signs of states, drawn by code, and marks over the 3D view.

const SVG = 'http://www.w3.org/2000/svg';
const SHAPES = {
  octagon: '7.6,1 16.4,1 23,7.6 23,16.4 16.4,23 7.6,23 1,16.4 1,7.6',
  triangle: '12,1.5 23.2,21.5 0.8,21.5',
  diamond: '12,0.8 23.2,12 12,23.2 0.8,12',
};

/** The sign of a state; `looks` are the states' words, shapes and colours. */
export function sign(state, looks) {
  const { shape, colour } = looks[state];
  const svg = document.createElementNS(SVG, 'svg');
  svg.setAttribute('viewBox', '0 0 24 24');
  svg.setAttribute('class', 'sign');
  svg.setAttribute('aria-hidden', 'true');
  const points = SHAPES[shape], drawn = document.createElementNS(SVG, points ? 'polygon' : 'circle');
  if (points) drawn.setAttribute('points', points);
  else for (const [key, value] of [['cx', 12], ['cy', 12], ['r', shape === 'ring' ? 8.5 : 9.5]]) drawn.setAttribute(key, value);
  drawn.setAttribute('fill', shape === 'ring' ? 'none' : colour);
  if (shape === 'ring') drawn.setAttribute('class', 'open');
  svg.append(drawn);
  return svg;
}

/** A sign with its word. */
export function state(name, looks) {
  const whole = document.createElement('span');
  whole.className = `state ${name.replace('no limit', 'none')}`;
  whole.append(sign(name, looks), ` ${looks[name].word}`);
  return whole;
}

const APART = 26;

/** Marks at places in the view, the worst first; those that would cover a worse one are left out. */
export class Marks {
  constructor(holder, looks, choose) {
    Object.assign(this, { holder, looks, choose, known: new Map() });
  }

  show(marks, project, size) {
    const taken = [], kept = new Set();
    for (const mark of marks) {
      const at = project(mark.at);
      if (!at || at[0] < 0 || at[1] < 0 || at[0] > size[0] || at[1] > size[1]) continue;
      if (!mark.chosen && taken.some(([x, y]) => Math.hypot(x - at[0], y - at[1]) < APART)) continue;
      taken.push(at);
      const key = `${mark.key} ${mark.state} ${mark.chosen}`;
      kept.add(key);
      let drawn = this.known.get(key);
      if (!drawn) {
        drawn = document.createElement('button');
        drawn.type = 'button';
        drawn.tabIndex = -1;
        drawn.className = mark.chosen ? 'mark chosen' : 'mark';
        drawn.style.setProperty('--colour', this.looks[mark.state].colour);
        const shape = sign(mark.state, this.looks);
        // What is chosen is ringed, so that it is seen; its sign stands beside, with the words.
        if (mark.chosen) drawn.append(chip(shape));
        else drawn.append(shape);
        drawn.addEventListener('click', () => this.choose(mark.key));
        this.known.set(key, drawn);
        this.holder.append(drawn);
      }
      drawn.style.transform = `translate(${at[0].toFixed(1)}px, ${at[1].toFixed(1)}px)`;
      if (mark.chosen) {
        drawn.lastChild.lastChild.textContent = mark.text;
        setBeside(drawn.lastChild, at, size);
      }
    }
    for (const [key, drawn] of this.known) {
      if (kept.has(key)) continue;
      drawn.remove();
      this.known.delete(key);
    }
  }
}

/** A sign with room for words beside it. */
function chip(shape) {
  const made = document.createElement('span');
  made.append(shape, document.createElement('b'));
  return made;
}

// In px: from the middle of a ring to what stands beside or under it, and what is left free at the edges of the view.
const BESIDE = 31, EDGE = 6;

/** Sets what belongs to a place `at` in a view of some size right of it, or left, or under it, where there is room. */
function setBeside(drawn, at, size) {
  drawn.style.maxWidth = `${size[0] - 2 * EDGE}px`;
  const { offsetWidth: width, offsetHeight: height } = drawn;
  let [x, y] = [at[0] + BESIDE, at[1] - 0.5 * height];
  if (x + width > size[0] - EDGE) x = at[0] - BESIDE - width;
  if (x < EDGE) [x, y] = [clamped(at[0] - 0.5 * width, EDGE, size[0] - EDGE - width), at[1] + BESIDE];
  drawn.style.transform = `translate(${(x - at[0]).toFixed(1)}px, ${(y - at[1]).toFixed(1)}px)`;
}

const clamped = (value, low, high) => Math.max(low, Math.min(value, high));

// Labels that are written beside lines at most; the width of a letter, and from an end to its label, in px.
const LABELS = 5, LETTER = 8, AWAY = 13;

/** Lines over the view between two places: a gap with its number, a point that moved. */
export class Lines {
  constructor(holder) {
    this.holder = holder;
  }

  /** Draws lines: from and to in px by `project`, of a kind (`gap` or `moved`), with a text beside. */
  show(lines, project) {
    const drawn = [], taken = [];
    for (const line of lines) {
      const from = project(line.from), to = project(line.to);
      if (!from || !to) continue;
      const group = piece('g', { class: line.kind });
      if (line.colour) group.style.setProperty('--colour', line.colour);
      const [dx, dy] = [to[0] - from[0], to[1] - from[1]], size = Math.hypot(dx, dy);
      const ends = { x1: from[0], y1: from[1], x2: to[0], y2: to[1] };
      group.append(piece('line', { ...ends, class: 'under' }), piece('line', ends));
      if (line.kind === 'gap') {
        // A tick square to the line at either end.
        const [u, v] = size > 1 ? [(-dy / size) * 9, (dx / size) * 9] : [0, 9];
        for (const [x, y] of [from, to]) {
          const tick = { x1: x - u, y1: y - v, x2: x + u, y2: y + v };
          group.append(piece('line', { ...tick, class: 'under' }), piece('line', tick));
        }
      } else {
        group.append(piece('circle', { cx: to[0], cy: to[1], r: 4.5, class: 'hollow' }));
        // In a close-up the joint itself is there to be seen.
        if (!line.close) group.append(piece('circle', { cx: from[0], cy: from[1], r: 4.5 }));
      }
      if (line.text && taken.length < LABELS && !taken.some(([x, y]) => Math.abs(y - from[1]) < 16 && Math.abs(x - from[0]) < 90)) {
        const text = piece('text', placed(from, to, LETTER * line.text.length, this.holder.clientWidth));
        text.textContent = line.text;
        taken.push(from);
        group.append(text);
      }
      drawn.push(group);
    }
    this.holder.replaceChildren(...drawn);
  }
}

/** Where a text of some width stands: right of a line, or left, or under it, where there is room. */
function placed(from, to, width, room) {
  const y = 0.5 * (from[1] + to[1]) + 4, right = Math.max(from[0], to[0]) + AWAY, left = Math.min(from[0], to[0]) - AWAY;
  if (right + width < room - EDGE) return { x: right, y, 'text-anchor': 'start' };
  if (left - width > EDGE) return { x: left, y, 'text-anchor': 'end' };
  const middle = clamped(0.5 * (from[0] + to[0]), EDGE + 0.5 * width, room - EDGE - 0.5 * width);
  return { x: middle, y: Math.max(from[1], to[1]) + 2 * AWAY, 'text-anchor': 'middle' };
}

function piece(name, attributes) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, typeof value === 'number' ? value.toFixed(1) : value);
  return made;
}
