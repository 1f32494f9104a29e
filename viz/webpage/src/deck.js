// Wheels and steering: sliders, what goes with what, play, and the strips under the sliders that say where it is tight.

import { heightText, lockText } from './words.js';

const HEIGHTS = { locked: 9, over: 9, close: 5, clear: 2, 'no limit': 2 };
const RUN = 5200;
// How near to ride height, as a share of the travel, a slider that is dragged comes to rest there.
const HOLD = 0.018;
// Wheels whose heights are within this of each other, in mm, are said to be level.
const LIKE = 0.05;
const INSET = 11, CELLS = 56;

export class Deck {
  /** `move(values, by)` is asked to go to drive values by name. */
  constructor(holder, move, looks) {
    Object.assign(this, { holder, move, looks, link: 'each', units: 'mm', values: {} });
    this.rows = new Map([...holder.querySelectorAll('.drive')].map((row) => {
      const slider = row.querySelector('input'), name = row.dataset.drive;
      slider.addEventListener('input', () => this.dragged(name, slider));
      slider.addEventListener('keydown', (event) => this.key(name, event));
      return [name, { row, slider, output: row.querySelector('output'), strip: row.querySelector('canvas'), ride: row.querySelector('i') }];
    }));
    this.playing = null;
    this.playButton = holder.querySelector('#play');
    this.playButton.addEventListener('click', () => this.play());
    holder.querySelector('#ride').addEventListener('click', () => this.go({ left: 0, right: 0, steer: 0 }));
    for (const radio of holder.querySelectorAll('[name=link]')) {
      radio.addEventListener('change', () => this.linked(radio.value));
    }
  }

  /** The drives of a scene: their names and ends. */
  use(drives) {
    this.drives = new Map(drives.map((drive) => [drive.name, drive]));
    for (const [name, { row, slider, ride }] of this.rows) {
      const drive = this.drives.get(name);
      row.hidden = !drive;
      if (!drive) continue;
      const [low, high] = this.scale(name);
      Object.assign(slider, { min: low, max: high, step: 'any' });
      ride.style.left = `calc(${INSET}px + ${-low / (high - low)} * (100% - ${2 * INSET}px))`;
    }
    const pair = this.drives.has('left') && this.drives.has('right');
    this.holder.querySelector('.links').hidden = !pair;
    if (!pair) this.link = 'each';
  }

  /** A slider's ends: heights in mm; steering in percent, left lock on the left. */
  scale(name) {
    const { low, high } = this.drives.get(name);
    return name === 'steer' ? [-100 * high, -100 * low] : [low, high];
  }

  /** The slider's own number as a drive value, and back. */
  drive(name, number) {
    return name === 'steer' ? -number / 100 + 0 : number;
  }

  number(name, value) {
    return name === 'steer' ? -100 * value : value;
  }

  dragged(name, slider) {
    this.stop();
    const [low, high] = this.scale(name);
    let number = slider.valueAsNumber;
    if (Math.abs(number) < HOLD * (high - low)) number = 0;
    this.go({ [name]: this.drive(name, number) });
  }

  key(name, event) {
    const [low, high] = this.scale(name), step = name === 'steer' ? 1 : this.units === 'in' ? 1.27 : 1;
    const big = 10 * step, now = this.number(name, this.values[name]);
    const to = {
      ArrowRight: now + (event.shiftKey ? big : step), ArrowUp: now + (event.shiftKey ? big : step),
      ArrowLeft: now - (event.shiftKey ? big : step), ArrowDown: now - (event.shiftKey ? big : step),
      PageUp: now + big, PageDown: now - big, Home: low, End: high,
    }[event.key];
    if (to === undefined) return;
    event.preventDefault();
    this.stop();
    // Steps land on whole ones, ride height among them.
    const whole = to === low || to === high ? to : Math.round(to / step) * step;
    this.go({ [name]: this.drive(name, Math.min(Math.max(whole, low), high)) });
  }

  /** What a move of one drive does to all, as the wheels are linked. */
  withLinks(values) {
    const linked = { ...values };
    for (const [one, other] of [['left', 'right'], ['right', 'left']]) {
      if (this.link === 'each' || values[one] === undefined || values[other] !== undefined) continue;
      const sign = this.link === 'together' ? 1 : -1, mine = this.drives.get(one), theirs = this.drives.get(other);
      const ends = sign > 0 ? [theirs.low, theirs.high] : [-theirs.high, -theirs.low];
      const value = Math.min(Math.max(values[one], mine.low, ends[0]), mine.high, ends[1]);
      linked[one] = value;
      linked[other] = sign * value + 0;
    }
    return linked;
  }

  go(values) {
    this.move(this.withLinks(values));
  }

  /** Lets the wheels go each by itself where they stand as no link has them. */
  suit({ left, right }) {
    const sign = { together: 1, crossed: -1 }[this.link];
    if (!sign || Math.abs(left - sign * right) < LIKE) return;
    this.link = 'each';
    this.holder.querySelector('[name=link][value=each]').checked = true;
  }

  linked(link) {
    this.link = link;
    this.stop();
    if (link !== 'each' && this.drives.has('left')) this.go({ left: this.values.left });
  }

  /** Shows a pose. */
  show(values, units) {
    Object.assign(this, { values, units });
    for (const [name, { slider, output }] of this.rows) {
      if (!this.drives.has(name)) continue;
      slider.value = this.number(name, values[name]);
      const words = name === 'steer' ? lockText(values[name]) : heightText(values[name], units);
      slider.setAttribute('aria-valuetext', words);
      output.textContent = words.replace('at ride height', 'ride height').replace('straight ahead', 'straight');
    }
  }

  /** Runs through the travel as the wheels are linked, or stops. */
  play() {
    if (this.playing) return this.stop();
    const wheels = { each: [{ left: 1 }, { right: 1 }], together: [{ left: 1, right: 1 }], crossed: [{ left: 1, right: -1 }] }[this.link];
    const runs = [...wheels, { steer: 1 }].filter((run) => Object.keys(run).every((name) => this.drives.has(name)));
    if (!runs.length) return undefined;
    const begin = performance.now();
    this.playButton.setAttribute('aria-pressed', 'true');
    const step = (now) => {
      if (!this.playing) return;
      const time = Math.max(now - begin, 0) / RUN, run = runs[Math.floor(time) % runs.length];
      const swing = Math.sin(2 * Math.PI * (time % 1)), values = { left: 0, right: 0, steer: 0 };
      for (const [name, sign] of Object.entries(run)) {
        const { low, high } = this.drives.get(name), wish = sign * swing;
        values[name] = wish > 0 ? wish * high : -wish * low;
      }
      this.move(values, true);
      this.playing = requestAnimationFrame(step);
    };
    this.playing = requestAnimationFrame(step);
    return undefined;
  }

  stop() {
    if (!this.playing) return;
    cancelAnimationFrame(this.playing);
    this.playing = null;
    this.playButton.setAttribute('aria-pressed', 'false');
    this.move({});
  }

  /** Draws under each slider the worst state (`worst(values)`) all along it, with the other drives as they are. */
  strips(worst) {
    for (const [name, { strip }] of this.rows) {
      const drive = this.drives.get(name);
      if (!drive) continue;
      const scale = Math.min(window.devicePixelRatio || 1, 2), width = strip.clientWidth, height = strip.clientHeight;
      if (!width) continue;
      if (strip.width !== Math.round(width * scale)) {
        strip.width = Math.round(width * scale);
        strip.height = Math.round(height * scale);
      }
      const brush = strip.getContext('2d'), [low, high] = this.scale(name);
      brush.setTransform(scale, 0, 0, scale, 0, 0);
      brush.clearRect(0, 0, width, height);
      const states = Array.from({ length: CELLS }, (_, cell) => {
        const number = low + ((cell + 0.5) / CELLS) * (high - low);
        return worst({ ...this.values, ...this.withLinks({ [name]: this.drive(name, number) }) });
      });
      // One bar for each run of the same state.
      for (let cell = 0; cell < CELLS;) {
        const state = states[cell], left = (cell / CELLS) * width;
        while (cell < CELLS && states[cell] === state) cell++;
        const right = (cell / CELLS) * width;
        brush.fillStyle = this.looks[state].colour;
        brush.globalAlpha = state === 'clear' || state === 'no limit' ? 0.4 : 1;
        brush.fillRect(left, 0, right - left, HEIGHTS[state]);
        if (state === 'locked') {
          for (let x = left + 2; x < right - 3; x += 5) brush.clearRect(x, 2, 2.5, HEIGHTS[state] - 4);
        }
      }
    }
  }
}
