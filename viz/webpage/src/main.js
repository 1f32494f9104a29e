// The page: one or two scenes, the pose they are in, and everything that follows from it.
//
// With #plain behind its name the page is drawn without shadows and smooth edges: for slow machines and for tests.
//
// window.fulltravelPage is what tests and the curious may use:
//   ready                 a promise that is kept once the first scene stands
//   drives()              {left, right, steer}: heights in mm from ride height, steering as a share of lock
//   go({left, ...})       asks for a pose and returns the drives that were reached
//   parts()               {part: {turn: [x, y, z, w], move: [x, y, z]}}: x = R x_ride + move, in vehicle axes and mm
//   findings()            [{where, what, value, state}] of this pose, in rad, mm and rad/s²
//   scene()               number of the scene that is shown
//   camera()              {position, focus} in m, axes of the GLB

import { glbOf, unpacked } from './bytes.js';
import { Deck } from './deck.js';
import { List, there } from './list.js';
import { Model } from './model.js';
import { nodesOf, pointOn } from './places.js';
import { Lines, Marks } from './signs.js';
import { Stage } from './stage.js';
import { Tables } from './tables.js';
import { barredWords, inUnits, more } from './texts.js';
import { limitText, poseText, quantityText, rowText, stateOf, usedText, valueOf, worse } from './words.js';

const find = (selector) => document.querySelector(selector);
const TOLD = new Set(['locked', 'over', 'close']);
// How far beyond a hard stop, in mm, is told, as near as the tables tell it; how near to what is chosen a point that moved is shown.
const PAST = 0.05, NEAR = 150;
const page = JSON.parse(find('#data').textContent);
const looks = page.looks;

const all = page.scenes.map((data, number) => ({ data, number, holder: find(`#scene-${number}`) }));
let shown = null, stage = null, marks = null, lines = null, deck = null;
let values = { left: 0, right: 0, steer: 0 }, units = page.units, chosen = null;
let current = null, stripsAt = 0, stripsLater = 0, sayLater = 0;

const drivesOf = (scene, named) => scene.data.drives.map(({ name, low, high }) => Math.min(Math.max(named[name] ?? 0, low), high));
const named = (scene, drives) => Object.fromEntries(scene.data.drives.map(({ name }, k) => [name, drives[k]]));

/** Goes as far as can be on the way to drive values, and shows that pose. */
function move(wish, playing = false) {
  const from = drivesOf(shown, values), to = drivesOf(shown, { ...values, ...wish });
  const { drives, barred } = shown.tables.furthest(from, to);
  values = { ...values, ...named(shown, drives) };
  show(barred, playing);
}

function show(barred = null, playing = false) {
  const drives = drivesOf(shown, values), columns = shown.tables.read(drives);
  current = { drives, columns, ...nodesOf(shown.data, columns) };
  shown.model.stand(current, pointOn);
  deck.show(named(shown, drives), units);
  shown.list.now(columns, drives, units);
  current.marks = marksOf();
  current.lines = linesOf();
  const words = poseText(named(shown, drives), units);
  find('#pose').textContent = words;
  const noticed = notice(barred);
  stage.draw();
  drawStrips(playing);
  clearTimeout(sayLater);
  if (!playing) sayLater = setTimeout(() => say(words, noticed), 500);
}

/** What the person should know of this pose beside the findings. */
function notice(barred) {
  const told = [...(barred ? [barredWords(barred)] : []), ...pastStops()].join(' ');
  const holder = find('#notice');
  holder.textContent = told;
  holder.hidden = !told;
  return told;
}

const pastStops = () => shown.data.stops.filter(({ column }) => current.columns[column] > PAST)
  .map(({ cause, where }) => `Beyond a hard stop: ${cause}, ${where}.`);

/** Says the pose and what is over or close, for those who hear the page. */
function say(words, noticed) {
  const told = shown.data.measures.map((measure) => [measure, valueOf(measure, current.columns)])
    .map(([measure, value]) => [measure, value, stateOf(value, measure)]).filter(([, , name]) => TOLD.has(name));
  const counts = ['over', 'close'].map((name) => [told.filter(([, , one]) => one === name).length, name]).filter(([count]) => count);
  let text = `${words}. ${counts.length ? counts.map(([count, name]) => `${count} ${name}`).join(', ') : 'Nothing over or close'}.`;
  if (chosen) {
    const row = shown.data.rows[chosen.row], measure = shown.data.measures[row.measure];
    if (measure) {
      const value = valueOf(measure, current.columns);
      text += ` ${row.where}: ${row.what} ${quantityText(row.quantity, value, units, row.fine)}, ${looks[stateOf(value, measure)].word}.`;
    }
  }
  find('#said').textContent = `${noticed} ${text}`.trim();
}

/** The worst of everything, or of what is chosen, at drive values by name. */
function worstAt(wish) {
  const drives = drivesOf(shown, wish);
  if (!shown.tables.open(drives)) return shown.tables.barred(drives).locked ? 'locked' : 'no limit';
  shown.tables.readMeasured(drives, shown.scratch);
  const row = chosen && shown.data.rows[chosen.row];
  const looked = row && row.measure >= 0 ? [shown.data.measures[row.measure]] : shown.data.measures;
  return looked.reduce((worst, measure) => worse(worst, stateOf(valueOf(measure, shown.scratch), measure)), 'no limit');
}

function drawStrips(playing) {
  clearTimeout(stripsLater);
  const wait = (playing ? 250 : 60) - (performance.now() - stripsAt);
  const draw = () => {
    deck.strips(worstAt);
    stripsAt = performance.now();
  };
  if (wait <= 0) draw();
  else stripsLater = setTimeout(draw, wait);
}

const atRide = () => current.drives.every((value) => Math.abs(value) < 1e-6);

/** A mark for each place where something is over or close in this pose, and for what is chosen, the worst first. */
function marksOf() {
  const places = new Map();
  shown.data.rows.forEach((row, number) => {
    const mine = chosen && chosen.row === number;
    if (row.measure < 0) {
      const here = TOLD.has(row.state) && row.same && atRide();
      if ((mine && !row.points) || (here && !places.has(row.where))) {
        places.set(row.where, { key: number, state: row.state, at: row.at, chosen: Boolean(mine), text: rowText(row, row.used, units) });
      }
      return;
    }
    const measure = shown.data.measures[row.measure], value = valueOf(measure, current.columns), name = stateOf(value, measure);
    if (!measure.spot && !mine) return;
    if (!mine && !TOLD.has(name)) return;
    const known = places.get(row.where);
    if (known && !mine && (known.chosen || worse(known.state, name) === known.state)) return;
    places.set(row.where, {
      key: number, state: name, at: spotOf(measure, row), chosen: Boolean(mine), text: rowText(row, value, units),
    });
  });
  const order = ['locked', 'over', 'close', 'clear', 'no limit'];
  return [...places.values()].sort((one, other) => other.chosen - one.chosen || order.indexOf(one.state) - order.indexOf(other.state));
}

/** Lines of this pose: the gap that is chosen where it is smallest, and points that are elsewhere in the other scene. */
function linesOf() {
  const drawn = [], row = chosen && shown.data.rows[chosen.row];
  if (row && row.points && there(row, current.drives)) {
    const [from, to] = row.points, limit = limitText(row, units);
    const words = row.used > 0 ? `${usedText(row, units)}${limit ? `, ${limit}` : ''}` : `touches, ${usedText({ ...row, used: -row.used }, units)} deep`;
    drawn.push({ from, to, kind: 'gap', colour: looks[row.state].colour, text: words });
  }
  const [mine, other] = shown.number === 0 ? [0, 1] : [1, 0];
  for (const point of page.moved) {
    const here = current.places.get(point.on[mine]);
    if (!here) continue;
    const from = pointOn(here, point.at[mine]), to = pointOn(current.places.get(point.on[other]) || here, point.at[other]);
    if (row && ![from, to].some((at) => away(at, chosenAt(row)) < NEAR)) continue;
    drawn.push({ from, to, kind: 'moved', close: Boolean(chosen), text: chosen ? '' : point.name });
  }
  return drawn;
}

/** Where what is chosen is in this pose, and how far a place is from another, in mm. */
const chosenAt = (row) => (row.measure >= 0 ? spotOf(shown.data.measures[row.measure], row) : row.at);
const away = (one, other) => Math.hypot(...one.map((value, k) => value - other[k]));

function spotOf(measure, row) {
  const { spot } = measure;
  if (!spot) return row.at;
  if (spot.part !== undefined) return pointOn(current.places.get(spot.part), spot.at);
  return Array.from(current.columns.subarray(spot.column, spot.column + 3));
}

function choose(number) {
  deck.stop();
  const row = shown.data.rows[number];
  chosen = { row: number };
  shown.list.choose(number);
  find('#unchoose').hidden = false;
  if (!row.same) {
    values = { ...values, ...named(shown, row.drives) };
    deck.suit(values);
    move({});
  } else show();
  const own = (label) => row.where.includes(label) || label.includes(row.where);
  stage.lookAt(chosenAt(row), shown.data.labels.filter(own), row.points);
  for (const radio of document.querySelectorAll('[name=view]')) radio.checked = false;
}

function unchoose() {
  chosen = null;
  shown.list.choose(-1);
  find('#unchoose').hidden = true;
  show();
}

/** Lets go of what is chosen, and shows the whole again. */
function back() {
  unchoose();
  find('[name=view]').checked = true;
  stage.look('three-quarter');
}

/** Shows one of the scenes, with the camera and the pose as they are. */
async function use(number) {
  const scene = all[number];
  if (!scene.model) {
    const buffer = await unpacked(find(`#bytes-${number}`).textContent);
    scene.tables = new Tables(scene.data, buffer);
    scene.scratch = new Float64Array(scene.tables.width);
    scene.model = await Model.made(glbOf(buffer, scene.data.glb), scene.data);
    scene.list = new List(scene.holder, scene.data, looks, choose);
    const rest = nodesOf(scene.data, scene.tables.read(scene.data.drives.map(() => 0)));
    scene.model.stand(rest, pointOn);
    const wheels = scene.data.drives.filter(({ name }) => name !== 'steer');
    scene.model.measure(0.5 * Math.max(0, ...wheels.map(({ low, high }) => Math.max(high, -low))));
  }
  const before = shown && chosen && shown.data.rows[chosen.row];
  shown = scene;
  all.forEach((one) => { one.holder.hidden = one !== scene; });
  chosen = null;
  const same = before ? scene.data.rows.findIndex((row) => row.where === before.where && row.what === before.what) : -1;
  if (same >= 0) chosen = { row: same };
  scene.list.choose(same);
  find('#unchoose').hidden = !chosen;
  deck.use(scene.data.drives);
  scene.list.write(units);
  stage.show(scene.model);
  // What is asked for may be locked in this scene: it is walked to from ride height.
  const wish = values;
  values = { left: 0, right: 0, steer: 0 };
  move(wish);
}

function keys(event) {
  const { target } = event;
  if (event.key === ' ' && !(target instanceof HTMLButtonElement) && !(target instanceof HTMLInputElement && target.type === 'radio')) {
    event.preventDefault();
    deck.play();
  }
  if (event.key === 'Escape' && chosen) back();
}

function canvasKeys(event) {
  const turn = { ArrowLeft: [-0.12, 0], ArrowRight: [0.12, 0], ArrowUp: [0, -0.1], ArrowDown: [0, 0.1], '+': [0, 0, 0.88], '=': [0, 0, 0.88], '-': [0, 0, 1.14] }[event.key];
  if (!turn) return;
  event.preventDefault();
  stage.turn(...turn);
}

async function start() {
  const canvas = find('#view');
  marks = new Marks(find('#marks'), looks, choose);
  lines = new Lines(find('#lines'));
  stage = new Stage(canvas, () => {
    if (!current) return;
    const project = (at) => stage.project(at);
    marks.show(current.marks, project, [canvas.clientWidth, canvas.clientHeight]);
    lines.show(current.lines, project);
  }, location.hash === '#plain');
  deck = new Deck(find('#deck'), move, looks);
  await use(0);
  document.querySelectorAll('.compared .more').forEach(more);
  document.addEventListener('keydown', keys);
  canvas.addEventListener('keydown', canvasKeys);
  find('#unchoose').addEventListener('click', back);
  for (const radio of document.querySelectorAll('[name=view]')) {
    radio.addEventListener('click', () => {
      if (chosen) unchoose();
      stage.look(radio.value);
    });
  }
  find('#glass').addEventListener('change', (event) => {
    stage.glassWheels = event.target.checked;
    stage.clearView();
  });
  for (const radio of document.querySelectorAll('[name=scene]')) radio.addEventListener('change', () => use(Number(radio.value)));
  for (const radio of document.querySelectorAll('[name=units]')) {
    radio.addEventListener('change', () => {
      units = radio.value;
      inUnits(units);
      shown.list.write(units);
      show();
    });
  }
  new ResizeObserver(() => drawStrips(false)).observe(find('#deck'));
  document.documentElement.classList.add('ready');
}

const ready = start().catch((error) => {
  const holder = find('#notice');
  holder.textContent = 'The 3D view cannot be shown here: this browser has no WebGL 2 or is too old. The table stands all the same.';
  holder.setAttribute('role', 'alert');
  holder.hidden = false;
  document.documentElement.classList.add('failed');
  throw error;
});
ready.catch(() => {});

window.fulltravelPage = {
  ready,
  drives: () => named(shown, current.drives),
  go(wish) {
    deck.stop();
    move(wish);
    return named(shown, current.drives);
  },
  parts: () => Object.fromEntries([...current.places].map(([name, { turn, move: shift }]) => [name, { turn, move: shift }])),
  findings: () => shown.data.measures.map((measure) => {
    const value = valueOf(measure, current.columns);
    return { where: measure.where, what: measure.what, value, state: stateOf(value, measure) };
  }),
  scene: () => shown.number,
  camera: () => ({ position: stage.camera.position.toArray(), focus: stage.controls.target.toArray() }),
};
