/**
 * The normal law: its distribution function, the inverse of it, and the chance that several correlated normal amounts
 * all stay above their bounds. No chance enters: where points are needed they are always the same ones.
 */

const SQRT_TWO_PI = Math.sqrt(2 * Math.PI);

/** Density of the standard normal law. */
function normalDensity(x: number): number {
  return Math.exp((-x * x) / 2) / SQRT_TWO_PI;
}

/** From here on the tail is summed as a continued fraction. */
const TAIL = 5;

/**
 * The chance that a standard normal number is at most `x`, to about 1e-15: a ratio of polynomials by Hart 1968, Computer
 * Approximations, algorithm 5666, in the form of West 2005 (both from memory; held to tables and to `normalQuantile`); in
 * the tail the continued fraction of Laplace.
 */
export function normalCdf(x: number): number {
  const tail = upperTail(Math.abs(x));
  return x > 0 ? 1 - tail : tail;
}

/** The chance that a standard normal number exceeds `x`, for `x >= 0`. */
function upperTail(x: number): number {
  if (x >= TAIL) {
    let fraction = x;
    for (let k = 40; k >= 1; k--) fraction = x + k / fraction;
    return normalDensity(x) / fraction;
  }
  const above =
    (((((0.0352624965998911 * x + 0.700383064443688) * x + 6.37396220353165) * x + 33.912866078383) * x +
      112.079291497871) *
      x +
      221.213596169931) *
      x +
    220.206867912376;
  const below =
    ((((((0.0883883476483184 * x + 1.75566716318264) * x + 16.064177579207) * x + 86.7807322029461) * x +
      296.564248779674) *
      x +
      637.333633378831) *
      x +
      793.826512519948) *
      x +
    440.413735824752;
  return (Math.exp((-x * x) / 2) * above) / below;
}

/**
 * The three ratios of polynomials of algorithm AS 241, routine PPND16: centre, shoulders, tails. Written out in full, since
 * tens of thousands are worked before a program that has just begun could make loops over coefficients fast.
 */
function centre(r: number): number {
  const above =
    ((((((2509.0809287301227 * r + 33430.57558358813) * r + 67265.7709270087) * r + 45921.95393154987) * r +
      13731.69376550946) *
      r +
      1971.5909503065513) *
      r +
      133.14166789178438) *
      r +
    3.3871328727963665;
  const below =
    ((((((5226.495278852854 * r + 28729.085735721943) * r + 39307.89580009271) * r + 21213.794301586597) * r +
      5394.196021424751) *
      r +
      687.1870074920579) *
      r +
      42.31333070160091) *
      r +
    1;
  return above / below;
}

function shoulder(r: number): number {
  const above =
    ((((((0.0007745450142783414 * r + 0.022723844989269184) * r + 0.2417807251774506) * r +
      1.2704582524523684) *
      r +
      3.6478483247632045) *
      r +
      5.769497221460691) *
      r +
      4.630337846156546) *
      r +
    1.4234371107496835;
  const below =
    ((((((1.0507500716444169e-9 * r + 0.0005475938084995345) * r + 0.015198666563616457) * r +
      0.14810397642748008) *
      r +
      0.6897673349851) *
      r +
      1.6763848301838038) *
      r +
      2.053191626637759) *
      r +
    1;
  return above / below;
}

function far(r: number): number {
  const above =
    ((((((2.0103343992922881e-7 * r + 0.000027115555687434876) * r + 0.0012426609473880784) * r +
      0.026532189526576124) *
      r +
      0.29656057182850487) *
      r +
      1.7848265399172913) *
      r +
      5.463784911164114) *
      r +
    6.657904643501103;
  const below =
    ((((((2.0442631033899397e-15 * r + 1.421511758316446e-7) * r + 0.000018463183175100548) * r +
      0.0007868691311456133) *
      r +
      0.014875361290850615) *
      r +
      0.1369298809227358) *
      r +
      0.599832206555888) *
      r +
    1;
  return above / below;
}

/**
 * The number that a standard normal one stays below with the chance `p`; -Infinity at 0, Infinity at 1.
 * Wichura 1988, Applied Statistics 37:477 (AS 241); the tests hold it to `normalCdf`.
 */
export function normalQuantile(p: number): number {
  if (!(p >= 0 && p <= 1)) return Number.NaN;
  const q = p - 0.5;
  if (Math.abs(q) <= 0.425) return q * centre(0.180625 - q * q);
  const tail = Math.min(p, 1 - p);
  if (tail === 0) return q < 0 ? -Infinity : Infinity;
  const r = Math.sqrt(-Math.log(tail));
  const size = r <= 5 ? shoulder(r - 1.6) : far(r - 5);
  return q < 0 ? -size : size;
}

/** The first `count` primes. */
function primes(count: number): number[] {
  const found: number[] = [];
  for (let n = 2; found.length < count; n++) if (found.every((p) => n % p !== 0)) found.push(n);
  return found;
}

/** Lattices that were made already; not to be written to. */
const LATTICES = new Map<string, Float64Array>();
const MOST_LATTICES = 32;

/**
 * Points spread evenly over the unit cube, always the same: coordinate k of point j is the fraction of j sqrt(prime k),
 * folded about the middle (Richtmyer's lattice with the baker's transformation, as in Genz and Bretz 2009,
 * Computation of Multivariate Normal and t Probabilities, section 4.2; from memory).
 * @returns `count` rows of `dimension` numbers between 0 and 1, both exclusive.
 */
export function latticePoints(count: number, dimension: number): Float64Array {
  const known = LATTICES.get(`${count} ${dimension}`);
  if (known) return known;
  const points = new Float64Array(count * dimension);
  const roots = primes(dimension).map(Math.sqrt);
  for (let j = 0; j < count; j++)
    for (let k = 0; k < dimension; k++) points[j * dimension + k] = coordinate(j, roots[k]!);
  if (LATTICES.size >= MOST_LATTICES) LATTICES.clear();
  LATTICES.set(`${count} ${dimension}`, points);
  return points;
}

/** Coordinate of lattice point `j` along the root of a prime. */
function coordinate(j: number, root: number): number {
  const at = ((j + 0.5) * root) % 1;
  return Math.min(Math.max(1 - Math.abs(2 * at - 1), 1e-15), 1 - 1e-15);
}

/** Columns that were made already: they are the same whatever they are for. */
const COLUMNS: Float64Array[] = [];

/**
 * Coordinate `k` of the first `count` lattice points, each through the inverse normal law: one column of a draw that is
 * always the same. Not to be written to.
 */
export function normalColumn(k: number, count: number): Float64Array {
  const known = COLUMNS[k];
  if (known && known.length >= count) return known.length === count ? known : known.subarray(0, count);
  const root = Math.sqrt(primes(k + 1)[k]!);
  const made = new Float64Array(count);
  for (let j = 0; j < count; j++) made[j] = normalQuantile(coordinate(j, root));
  COLUMNS[k] = made;
  return made;
}

/** Lattice points used for a chance of several needs together. */
const ORTHANT_POINTS = 4096;

/** A pivot below this is what rounding leaves of a row that the rows before it determine. */
const DEPENDENT = 1e-10;

/**
 * The chance that every one of several correlated normal amounts is at least `-room` of its own standard deviations
 * below its mean: P(Z_r >= -room_r for all r), by Genz 1992, J. Comput. Graph. Stat. 1:141 (from memory).
 * @param room by amount: how many standard deviations its mean is above its bound.
 * @param correlation symmetric, 1 on the diagonal; may be singular.
 */
export function orthantChance(
  room: readonly number[],
  correlation: readonly (readonly number[])[],
  count: number = ORTHANT_POINTS,
): number {
  const size = room.length;
  if (size === 0) return 1;
  if (size === 1) return normalCdf(room[0]!);
  const order = tightestFirst(room);
  const factor = cholesky(order.map((a) => order.map((b) => correlation[a]![b]!)));
  const points = latticePoints(count, size - 1);
  const z = new Float64Array(size);
  let sum = 0;
  for (let j = 0; j < count; j++) {
    let chance = 1;
    for (let r = 0; r < size && chance > 0; r++) {
      const row = factor[r]!;
      let shift = room[order[r]!]!;
      for (let k = 0; k < r; k++) shift += row[k]! * z[k]!;
      if (row[r]! <= DEPENDENT) {
        if (shift < 0) chance = 0;
        z[r] = 0;
        continue;
      }
      // z_r >= -shift / row_rr: with w = -z_r this is w <= shift / row_rr.
      const inside = normalCdf(shift / row[r]!);
      chance *= inside;
      if (r < size - 1) z[r] = -normalQuantile(Math.max(points[j * (size - 1) + r]! * inside, 1e-300));
    }
    sum += chance;
  }
  return sum / count;
}

/** The tightest first: the integrand then varies least. What rounding alone tells apart keeps its order. */
function tightestFirst(room: readonly number[]): number[] {
  const rounded = room.map((one) => Math.round(one * 1e6));
  return room.map((_, r) => r).sort((a, b) => rounded[a]! - rounded[b]! || a - b);
}

/** Lower triangle L with L L' = the matrix; a dependent row keeps a zero on its diagonal. */
function cholesky(matrix: readonly (readonly number[])[]): Float64Array[] {
  const rows = matrix.map(() => new Float64Array(matrix.length));
  for (let r = 0; r < matrix.length; r++)
    for (let c = 0; c <= r; c++) {
      let rest = matrix[r]![c]!;
      for (let k = 0; k < c; k++) rest -= rows[r]![k]! * rows[c]![k]!;
      const pivot = rows[c]![c]!;
      if (c === r) rows[r]![r] = rest > DEPENDENT ? Math.sqrt(rest) : 0;
      else rows[r]![c] = pivot > 0 ? rest / pivot : 0;
    }
  return rows;
}

/**
 * About the same without points: one amount after the other is taken to be above its bound, and what that says of the others'
 * means and covariances is kept as if they were still normal (Mendell and Elston 1974, Biometrics 30:41, from memory). Off
 * by a point at times, but smooth and a thousand times faster: for how a chance changes, not for what it is.
 */
export function roughChance(room: readonly number[], correlation: readonly (readonly number[])[]): number {
  const order = tightestFirst(room);
  const rooms = order.map((a) => room[a]!);
  const rows = order.map((a) => Float64Array.from(order, (b) => correlation[a]![b]!));
  let chance = 1;
  for (let r = 0; r < rooms.length; r++) {
    const own = rows[r]!;
    const deviation = Math.sqrt(Math.max(own[r]!, DEPENDENT));
    const at = rooms[r]! / deviation;
    const inside = normalCdf(at);
    chance *= inside;
    if (!(inside > 1e-300)) return 0;
    const shift = normalDensity(at) / inside;
    const kept = shift * (at + shift);
    for (let a = r + 1; a < rooms.length; a++) {
      const share = own[a]! / deviation;
      rooms[a]! += share * shift;
      const row = rows[a]!;
      for (let b = r + 1; b < rooms.length; b++) row[b]! -= (share * own[b]! * kept) / deviation;
    }
  }
  return chance;
}
