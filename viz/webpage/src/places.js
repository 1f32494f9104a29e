// Where every part is in a pose, from the columns of its tables. Vehicle axes, mm, quaternions x, y, z, w.

export function product([ax, ay, az, aw], [bx, by, bz, bw]) {
  return [
    aw * bx + ax * bw + ay * bz - az * by,
    aw * by - ax * bz + ay * bw + az * bx,
    aw * bz + ax * by - ay * bx + az * bw,
    aw * bw - ax * bx - ay * by - az * bz,
  ];
}

export function turned([x, y, z, w], [a, b, c]) {
  const s = 2 * (y * c - z * b), t = 2 * (z * a - x * c), u = 2 * (x * b - y * a);
  return [a + w * s + y * u - z * t, b + w * t + z * s - x * u, c + w * u + x * t - y * s];
}

function unit(q) {
  const size = Math.hypot(...q);
  return q.map((part) => part / size);
}

const minus = (a, b) => a.map((part, k) => part - b[k]);
const plus = (a, b) => a.map((part, k) => part + b[k]);
const some = (columns, start, count) => Array.from(columns.subarray(start, start + count));

/** How a part stands: its turn from ride height, and the translation that goes with it: x = R x_ride + t. */
export function placeOf(part, columns) {
  const at = some(columns, part.column, 3);
  let turn = unit(some(columns, part.column + 3, 4));
  if (part.spinning) turn = product(turn, aboutAxis(part.spinning.axis, spinOf(part.spinning, columns, part.column + 7)));
  return { turn, move: minus(at, turned(turn, part.centre)) };
}

export const pointOn = (place, at) => plus(turned(place.turn, at), place.move);

function aboutAxis(axis, angle) {
  const sine = Math.sin(0.5 * angle);
  return [axis[0] * sine, axis[1] * sine, axis[2] * sine, Math.cos(0.5 * angle)];
}

/**
 * The spin of a bar between two eyes, from that at ride height: there the larger of the two tilts, each as a share of
 * its limit, is as small as it can be (model/articulation.py). It lies between the best spins of the two.
 */
export function spinOf({ elevations, limits }, columns, start) {
  const [one, other] = [0, 1].map((eye) => {
    const [along, best, square] = some(columns, start + 3 * eye, 3);
    return { along, flat: Math.hypot(best, square), best: Math.atan2(square, best) };
  });
  const share = ({ along, flat }, elevation, limit, away) => {
    const sine = Math.sin(elevation), cosine = Math.cos(elevation), near = cosine * Math.cos(away);
    const across = Math.hypot(cosine * Math.sin(away), sine * flat - near * along);
    return Math.atan2(across, near * flat + sine * along) / limit;
  };
  const ahead = remainder(other.best - one.best), span = Math.abs(ahead);
  const excess = (tau) => share(one, elevations[0], limits[0], tau) - share(other, elevations[1], limits[1], span - tau);
  let low = 0, high = span;
  if (excess(0) >= 0) high = 0;
  else if (excess(span) <= 0) low = span;
  for (let turn = 0; turn < 40 && high - low > 1e-9; turn++) {
    const middle = 0.5 * (low + high);
    if (excess(middle) < 0) low = middle;
    else high = middle;
  }
  return one.best + Math.sign(ahead) * 0.5 * (low + high);
}

function remainder(angle) {
  const whole = 2 * Math.PI;
  return ((((angle + Math.PI) % whole) + whole) % whole) - Math.PI;
}

/** Where every node of the GLB stands: its place, its turn and the weights of its shapes, by its number. */
export function nodesOf(data, columns) {
  const places = new Map(data.parts.map((part) => [part.name, placeOf(part, columns)]));
  const nodes = data.parts.map((part) => {
    const place = places.get(part.name);
    return { node: part.node, at: pointOn(place, part.origin), turn: place.turn, weights: null };
  });
  for (const pliant of data.pliants) {
    const weights = some(columns, ...pliant.weights);
    if (pliant.part === undefined) {
      const turn = unit(some(columns, pliant.column + 3, 4));
      nodes.push({ node: pliant.node, at: some(columns, pliant.column, 3), turn, weights });
    } else {
      const place = places.get(pliant.part);
      const turn = product(place.turn, pliant.turn);
      nodes.push({ node: pliant.node, at: pointOn(place, pliant.place), turn, weights });
    }
  }
  return { places, nodes };
}
