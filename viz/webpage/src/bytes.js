// What a scene's bytes hold: a GLB, written as differences (viz/pagebytes.py), and then the tables of poses.

const PLAIN = 0, SHORTS = 1, BYTES = 2, SHORT_TRIANGLES = 3;
const WIDTH = { 1: 2, 2: 1, 3: 2, 4: 4 };

/** The bytes behind a text of zlib in base64. */
export async function unpacked(text) {
  const packed = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream('deflate'));
  return new Response(stream).arrayBuffer();
}

/** The GLB as it was before it was written as differences. */
export function glbOf(buffer, { length, views }) {
  const from = new Uint8Array(buffer), glb = new Uint8Array(length);
  let at = 0;
  for (const [start, size, kind] of views) {
    if (kind === PLAIN) {
      glb.set(from.subarray(at, at + size), start);
      at += size;
      continue;
    }
    const width = WIDTH[kind], vectors = kind === SHORTS || kind === BYTES;
    const rows = size / (vectors ? 4 * width : 3 * width);
    const number = column(from, at, rows, width);
    const block = glb.subarray(start, start + size);
    if (vectors) sums(block, rows, width, number);
    else triangles(block, rows, width, number);
    at += 3 * rows * width;
  }
  return glb.buffer;
}

/** Reads number `row` of column `k` of a table that was written plane by plane. */
function column(from, at, rows, width) {
  return (k, row) => {
    let value = 0;
    for (let plane = 0; plane < width; plane++) value += from[at + plane * 3 * rows + k * rows + row] * 2 ** (8 * plane);
    return value;
  };
}

function put(block, at, width, value) {
  for (let plane = 0; plane < width; plane++) block[at + plane] = Math.floor(value / 2 ** (8 * plane)) & 255;
}

/** Three running sums, in rows of four numbers of which the last stays 0. */
function sums(block, rows, width, number) {
  const whole = 2 ** (8 * width);
  for (let k = 0; k < 3; k++) {
    let sum = 0;
    for (let row = 0; row < rows; row++) {
      sum = (sum + number(k, row)) % whole;
      put(block, (4 * row + k) * width, width, sum);
    }
  }
}

/** First corners as a running sum, the other two as their distances from it. */
function triangles(block, rows, width, number) {
  const whole = 2 ** (8 * width);
  let first = 0;
  for (let row = 0; row < rows; row++) {
    first = (first + number(0, row)) % whole;
    put(block, 3 * row * width, width, first);
    for (let k = 1; k < 3; k++) put(block, (3 * row + k) * width, width, (first + number(k, row)) % whole);
  }
}
