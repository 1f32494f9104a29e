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
        drawn.append(sign(mark.state, this.looks));
        if (mark.chosen) drawn.append(document.createElement('span'));
        drawn.addEventListener('click', () => this.choose(mark.key));
        this.known.set(key, drawn);
        this.holder.append(drawn);
      }
      drawn.style.transform = `translate(${at[0].toFixed(1)}px, ${at[1].toFixed(1)}px)`;
      if (mark.chosen) drawn.lastChild.textContent = mark.text;
    }
    for (const [key, drawn] of this.known) {
      if (kept.has(key)) continue;
      drawn.remove();
      this.known.delete(key);
    }
  }
}
