// Numbers, poses and states in words: the same as viz/words.py, model/units.py, model/findings.py and model/verdicts.py.

const INCH = 25.4;

/** A number with so many digits behind the point, and a minus sign that is one. */
const digits = (amount, count) => amount.toFixed(count).replace('-', '\u2212');

export function lengthText(mm, units) {
  if (units === 'in') return `${digits(mm / INCH, 2)} in`;
  return `${digits(mm, Math.abs(mm) < 9.95 ? 1 : 0)} mm`;
}

export function quantityText(quantity, amount, units, fine = false) {
  if (amount === null || Number.isNaN(amount)) return '–';
  if (quantity === 'angle') return `${digits((amount * 180) / Math.PI, 1)}°`;
  if (quantity === 'acceleration') return `${digits(amount, 0)} rad/s²`;
  if (fine) return units === 'in' ? `${digits(amount / INCH, 3)} in` : `${digits(amount, 2)} mm`;
  return lengthText(amount, units);
}

export function usedText(row, units) {
  return quantityText(row.quantity, row.used, units, row.fine);
}

export function limitText(row, units) {
  if (row.limit === null || row.limit === undefined) return '';
  if (row.apart) return 'no touching';
  const word = row.advice ? (row.least ? 'advised at least ' : 'advised ') : row.least ? 'at least ' : 'of ';
  return `${word}${quantityText(row.quantity, row.limit, units, row.fine)}${row.typical ? '*' : ''}`;
}

/** A finding with an amount against its limit; of a lock, only where it is. */
export function rowText(row, amount, units) {
  if (row.state === 'locked') return row.where;
  const limit = limitText(row, units);
  return `${row.what} ${quantityText(row.quantity, amount, units, row.fine)}${limit ? ` ${limit}` : ''}`;
}

export function heightText(mm, units) {
  if (Math.abs(mm) < 0.05) return 'at ride height';
  return `${lengthText(Math.abs(mm), units)} ${mm > 0 ? 'up' : 'down'}`;
}

export function lockText(share) {
  if (Math.abs(share) <= 5e-4) return 'straight ahead';
  const amount = Math.abs(share) > 0.9995 ? 'full' : `${(100 * Math.abs(share)).toFixed(0)} %`;
  return `${amount} ${share > 0 ? 'left' : 'right'} lock`;
}

/** A pose in words, from its drive values by name. */
export function poseText(values, units) {
  const { left, right, steer = 0 } = values, words = [];
  if (left !== undefined && right !== undefined && Math.abs(left - right) < 0.05) {
    words.push(`both wheels ${heightText(left, units)}`);
  } else {
    for (const side of ['left', 'right']) {
      if (values[side] !== undefined) words.push(`${side} wheel ${heightText(values[side], units)}`);
    }
  }
  if (Math.abs(steer) > 5e-4) words.push(lockText(steer));
  return words.join(', ');
}

export const WORST_FIRST = ['locked', 'over', 'close', 'clear', 'no limit'];

/** The state of a measure's value. */
export function stateOf(value, measure) {
  if (measure.limit === undefined || Number.isNaN(value)) return 'no limit';
  const sign = measure.least ? -1 : 1;
  if (sign * value > sign * measure.limit + measure.slack && !measure.advice) return 'over';
  return sign * value > sign * measure.close + measure.slack ? 'close' : 'clear';
}

/** A measure's value among the columns of a pose. */
export function valueOf(measure, columns) {
  const stored = columns[measure.column];
  return measure.squared ? Math.sqrt(Math.max(stored, 0)) : stored;
}

export function worse(one, other) {
  return WORST_FIRST.indexOf(one) <= WORST_FIRST.indexOf(other) ? one : other;
}
