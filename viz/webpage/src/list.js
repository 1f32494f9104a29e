// The table of findings: each in its worst pose, and as it is now.

import { limitText, poseText, quantityText, stateOf, usedText, valueOf } from './words.js';
import { state } from './signs.js';

/** Whether a pose, by its drive values, is the one in which a finding is worst. */
export const there = (row, drives) => row.drives.every((value, k) => Math.abs(value - drives[k]) < 1e-3);

const TOLD = new Set(['locked', 'over', 'close']);

export class List {
  constructor(holder, data, looks, choose) {
    Object.assign(this, { holder, data, looks });
    this.rows = [...holder.querySelectorAll('tbody tr')];
    this.cells = this.rows.map((row) => row.querySelector('.now'));
    this.last = [];
    this.rows.forEach((row, number) => row.addEventListener('click', () => choose(number)));
    this.more = holder.querySelector('.more');
    this.more?.addEventListener('click', () => this.showAll(this.more.getAttribute('aria-expanded') !== 'true'));
    if (this.more) this.showAll(false);
  }

  /** Shows all findings, or only those that call for a look. */
  showAll(all) {
    this.rows.forEach((row, number) => {
      row.hidden = !all && !TOLD.has(this.data.rows[number].state) && number !== this.chosen;
    });
    this.more.setAttribute('aria-expanded', String(all));
    this.more.textContent = all ? 'Show only what needs a look' : `Show all ${this.rows.length}`;
  }

  /** Marks one row as the chosen one; −1 for none. */
  choose(number) {
    this.chosen = number;
    this.rows.forEach((row, k) => {
      row.classList.toggle('chosen', k === number);
      row.querySelector('button').setAttribute('aria-pressed', String(k === number));
      if (k === number) row.hidden = false;
    });
  }

  /** Says what everything is in a pose; from the columns of the tables and its drive values. */
  now(columns, drives, units) {
    const atRide = drives.every((value) => Math.abs(value) < 1e-6);
    this.data.rows.forEach((row, number) => {
      let words = '–', word = null;
      if (row.measure >= 0) {
        const measure = this.data.measures[row.measure], value = valueOf(measure, columns);
        words = quantityText(row.quantity, value, units, row.fine);
        word = Number.isNaN(value) ? null : stateOf(value, measure);
      } else if ((row.same && atRide) || (row.points && there(row, drives))) {
        words = usedText(row, units);
        word = row.state;
      }
      const whole = `${words} ${word}`;
      if (this.last[number] === whole) return;
      const cell = this.cells[number], value = document.createElement('span');
      value.className = 'value';
      value.textContent = words;
      if (word !== this.last[`state ${number}`] || !cell.querySelector('.state')) {
        cell.replaceChildren(value, ...(word && row.state !== 'locked' ? [state(word, this.looks)] : []));
      } else cell.replaceChild(value, cell.firstChild);
      this.last[number] = whole;
      this.last[`state ${number}`] = word;
    });
  }

  /** Writes the worst values and poses in a person's units. */
  write(units) {
    const names = this.data.drives.map((drive) => drive.name);
    this.rows.forEach((row, number) => {
      const finding = this.data.rows[number];
      const pose = Object.fromEntries(names.map((name, k) => [name, finding.drives[k]]));
      const used = row.querySelector('.used'), where = row.querySelector('.pose');
      if (used) used.textContent = usedText(finding, units);
      const limit = row.querySelector('.limit');
      if (limit) limit.textContent = limitText(finding, units);
      if (where) where.textContent = poseText(pose, units);
    });
  }
}
