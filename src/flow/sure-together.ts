/**
 * Needs met in the same season: the risk of missing any of them shared out so that the mix costs least.
 *
 * Each need n has a margin of z_n deviations of its own. What a little more z_n costs is known where a mix is (the price
 * of the need times the deviation of its supply), and so is what it brings: how the chance of all together (Genz's
 * integral) changes. So every mix on the way gives a plane under the cost and a model of the chance; the next margins are
 * the cheapest by all planes at which the model is as sure as asked, not too far from the best so far. It is begun from
 * one common level for all and from the least that each needs by itself, and the cheapest mix is kept whose chance, worked
 * out at the mix itself, is what was asked. A program that fails on the way is no step.
 */
import type { Nutrient } from "../nutrients.ts";
import type { PlanSureRow } from "../program/sure-rows.ts";
import { doubtKey } from "../season/spread.ts";
import { lengthOf, meanOf, spreadsAt } from "../solver/margin.ts";
import { normalCdf, normalQuantile, orthantChance, roughChance } from "../solver/normal.ts";
import { Draft, other, type Program } from "../solver/program.ts";
import { Simplex } from "../solver/simplex.ts";
import { costOf, worstViolation } from "../solver/verify.ts";
import type { Levels, Reached, SureSearch } from "./sure.ts";

/** Margins, by nutrient in the order asked. */
type Margins = readonly number[];

/** A mix on the way. */
interface Stage {
  readonly z: Margins;
  readonly x: readonly number[];
  readonly cost: number;
  /** What a little more of each margin costs. */
  readonly slope: Margins;
  readonly chance: ChanceModel;
}

/** Margins at which there is no mix, and what part each has in that. */
interface Wall {
  readonly direction: Margins;
  readonly beyond: number;
}

/** Margins may move by so much in one step at first, and by so little at last. */
const WIDEST = 1.5;
const NARROWEST = 0.02;
const SHRINKS = 0.7;
const MOST_STEPS = 12;
/** The same on the way to what is sure enough. */
const MOST_CLIMBS = 30;
const MOST_FAILED = 8;
const COMMON_STEPS = 4;
/** Deviations by which a margin is moved to see what the chance does. */
const NUDGE = 0.02;
/** Between margins with a mix and others without, by their direction: so far on the way is tried next. */
const ON_THE_WAY = 0.6;
/** No margin is more than this: 9,999 seasons of 10,000. */
const MOST_MARGIN = normalQuantile(0.9999);
/** A step that promises, or brings, less than this share of the cost is the last. */
const CHEAPER = 2e-5;
/** Points of the lattice for the chance of a mix on the way. */
const POINTS = 512;
/** Of a mix found for a share that is so near, in deviations, the margins are shifted; farther off it is searched anew. */
const NEARBY = 0.2;
/** How near to what is asked a chance on the way is as good as that. */
const NEAR = 2e-4;
/** Rows of supplies that are never short, or short just when another is, say nothing. */
const NEVER = 6;
const ALIKE = 1 - 1e-9;
const MOST_TANGENTS = 8;

/** Looks for mixes of one plan that meet some needs in the same season; what is learned at one chance helps at the next. */
export class SharingOut {
  readonly #nutrients: readonly Nutrient[];
  readonly #each: Levels;
  /** Rows of all that is asked, and of what is to hold together. */
  readonly #all: readonly PlanSureRow[];
  readonly #rows: readonly PlanSureRow[];
  readonly #keys: readonly (readonly number[])[];
  readonly #stages: Stage[] = [];
  readonly #walls: Wall[] = [];
  /** The best for what was last searched for. */
  #last: { readonly stage: Stage; readonly p: number } | null = null;
  readonly #search: SureSearch;
  /** For mixes on the way. */
  readonly #rough: SureSearch;

  /** @param each what single needs are asked besides. */
  constructor(search: SureSearch, each: Levels, nutrients: readonly Nutrient[]) {
    this.#search = search;
    this.#rough = search.inOwnOrder();
    this.#each = each;
    this.#nutrients = nutrients;
    // The level only says which rows are wanted.
    this.#all = this.#rough.rows(new Map([...each.keys(), ...nutrients].map((n) => [n, 0.75])));
    this.#rows = this.#all.filter(({ nutrient }) => nutrients.includes(nutrient));
    const numbers = new Map<string, number>();
    this.#keys = this.#rows.map(({ doubts }) =>
      doubts.map((doubt) => {
        const key = doubtKey(doubt);
        if (!numbers.has(key)) numbers.set(key, numbers.size);
        return numbers.get(key)!;
      }),
    );
  }

  /**
   * The cheapest mix that was found to meet all in a share `p` of the seasons, by the normal law.
   * @param cheapest whether to look for the least cost; otherwise the first mix that is as sure is enough.
   * @returns without a mix where none was found.
   */
  async reach(p: number, cheapest: boolean): Promise<Reached> {
    const least = this.#nutrients.map((n) => marginOf(Math.max(p, this.#each.get(n) ?? 0.5)));
    if (this.#last && Math.abs(quantileOf(p) - quantileOf(this.#last.p)) < NEARBY)
      return this.#shifted(this.#last.stage, p);
    // Each alone must be as sure as all: what rules this out rules all out.
    const bottom = await this.#at(least);
    if (bottom === null) return this.#search.at(this.#levels(least));
    if (bottom.chance.here >= p) return this.#settled(bottom, p);
    const common = await this.#common(p, least);
    let best: Stage | null = null;
    for (const start of common ? [common, bottom] : [bottom]) {
      if (best && !cheapest) break;
      best = cheaper(best, await this.#descend(start, p, least, cheapest), p);
    }
    return best ? this.#settled(best, p) : this.#bonferroni(p, least);
  }

  /** One level for all that is as sure as asked: the level is found on the model, and the model made anew at its mix. */
  async #common(p: number, least: Margins): Promise<Stage | null> {
    const at = (level: number): Margins => least.map((z) => Math.max(z, level));
    let level = marginOf(p ** (1 / Math.max(1, least.length)));
    let best: Stage | null = null;
    for (let k = 0; k < COMMON_STEPS; k++) {
      const stage = await this.#at(at(level));
      if (stage === null) return best;
      best = best && best.chance.here >= p && !(stage.chance.here >= p) ? best : stage;
      if (Math.abs(stage.chance.here - p) < NEAR) break;
      const next = firstWhere((one) => stage.chance.at(at(one)) >= p + NEAR / 4, [0, MOST_MARGIN]);
      if (Math.abs(next - level) < 1e-4) break;
      level = next;
    }
    return best;
  }

  /** Steps from a mix to cheaper ones; the cheapest on the way that is as sure as asked, null where none was. */
  async #descend(start: Stage, p: number, least: Margins, cheapest: boolean): Promise<Stage | null> {
    let now = start;
    let best: Stage | null = null;
    for (const known of this.#stages)
      if (known.z.every((z, n) => z >= least[n]! - 1e-9)) best = cheaper(best, known, p);
    let step: Margins = now.z.map(() => WIDEST);
    let failed = 0;
    for (let k = 0; k < (best ? MOST_STEPS : MOST_CLIMBS) && Math.max(...step) > NARROWEST; k++) {
      const next = nextMargins(now, this.#stages, this.#limits(), p, least, step);
      if (next === null) break;
      if (best && best.cost - next.cost < CHEAPER * best.cost) break;
      const walls = this.#walls.length;
      const stage = await this.#at(next.z);
      if (stage === null) {
        // The wall that was met says which margins are to go less far; without one, all.
        if (this.#walls.length === walls) step = step.map((one) => one / 2);
        if (failed++ > MOST_FAILED) break;
        continue;
      }
      const before = best;
      best = cheaper(best, stage, p);
      if (best && !cheapest) break;
      const gained = best === stage && before && before.cost - best.cost < CHEAPER * best.cost * 5;
      if (gained || (stage === now && k > 0)) break;
      now = stage;
      if (best) step = step.map((one) => one * SHRINKS);
    }
    return best;
  }

  #settled(stage: Stage, p: number): Promise<Reached> {
    this.#last = { stage, p };
    return this.#shifted(stage, p);
  }

  /** The mix with margins so much above or below those of another, each by the same, that it is as sure as asked. */
  #shifted({ z, chance }: Stage, p: number): Promise<Reached> {
    const least = this.#nutrients.map((n) => marginOf(this.#each.get(n) ?? 0.5));
    const at = (by: number): Margins =>
      z.map((one, n) => Math.max(least[n]!, Math.min(MOST_MARGIN, one + by)));
    return this.#search.at(this.#levels(at(firstWhere((by) => chance.at(at(by)) >= p, [-WIDEST, WIDEST]))));
  }

  /** That sure of each is enough by Bonferroni's inequality; where that is too much, it shows what is in the way. */
  #bonferroni(p: number, least: Margins): Promise<Reached> {
    const each = marginOf(1 - (1 - p) / Math.max(1, this.#rows.length));
    return this.#search.at(this.#levels(least.map((z) => Math.max(z, each))));
  }

  /** How far margins may go towards walls: part of the way from the farthest mix that is known. */
  #limits(): Wall[] {
    return this.#walls.map(({ direction, beyond }) => {
      const within = Math.max(...this.#stages.map(({ z }) => dot(direction, z)));
      const left = beyond - within;
      return {
        direction,
        beyond: left < 0 ? Infinity : left < NARROWEST ? within : within + ON_THE_WAY * left,
      };
    });
  }

  #levels(z: Margins): Levels {
    return new Map([...this.#each, ...this.#nutrients.map((n, k) => [n, normalCdf(z[k]!)] as const)]);
  }

  /** The cheapest mix with some margins. */
  async #at(z: Margins): Promise<Stage | null> {
    const known = this.#stages.find((one) => one.z.every((margin, n) => Math.abs(margin - z[n]!) < 1e-9));
    if (known) return known;
    const found = this.#rough.roughly(this.#levels(z), this.#all);
    const nearest = found.x ?? this.#stages.at(-1)?.x;
    const slope = this.#nutrients.map(() => 0);
    this.#all.forEach(({ nutrient, factors }, r) => {
      const n = this.#nutrients.indexOf(nutrient);
      if (n >= 0 && nearest) slope[n]! += found.prices[r]! * lengthOf(spreadsAt(factors, nearest));
    });
    if (found.x === null) {
      const most = Math.max(...slope);
      if (most > 0) {
        const direction = slope.map((one) => one / most);
        this.#walls.push({ direction, beyond: dot(direction, z) });
      }
      return null;
    }
    const chance = new ChanceModel(this.#rough.base, this.#rows, this.#keys, this.#nutrients, z, found.x);
    const stage = { z, x: found.x, cost: costOf(this.#rough.base, found.x), slope, chance };
    this.#stages.push(stage);
    return stage;
  }
}

/** The margin that a share of seasons asks for; none below one half. */
function marginOf(p: number): number {
  return p <= 0.5 ? 0 : quantileOf(p);
}

function quantileOf(p: number): number {
  return Math.min(MOST_MARGIN, normalQuantile(p));
}

/** The least number between two from which on something holds, by halving; the higher one where it never does. */
function firstWhere(holds: (at: number) => boolean, [low, high]: readonly [number, number]): number {
  let [from, to] = [low, high];
  for (let half = 0; half < 24; half++) {
    const middle = (from + to) / 2;
    if (holds(middle)) to = middle;
    else from = middle;
  }
  return to;
}

function cheaper(best: Stage | null, next: Stage | null, p: number): Stage | null {
  if (next === null || !(next.chance.here >= p - NEAR)) return best;
  return best === null || next.cost < best.cost ? next : best;
}

/** The chance of all needs together at a mix, and near it at other margins. */
class ChanceModel {
  /** The chance at the mix itself. */
  readonly here: number;
  /** By row that says something: its nutrient, how many deviations it lies above its need, and whether its margin holds it there. */
  readonly #room: readonly { readonly n: number; readonly room: number; readonly tight: boolean }[];
  readonly #correlation: readonly (readonly number[])[];
  /** In deviations, by how much the rough chance is off at the mix. */
  readonly #off: number;

  constructor(
    program: Program,
    rows: readonly PlanSureRow[],
    keys: readonly (readonly number[])[],
    nutrients: readonly Nutrient[],
    private readonly z: Margins,
    x: readonly number[],
  ) {
    const supplies = rows.map((row, r) => {
      const v = spreadsAt(row.factors, x);
      const moves = new Map<number, number>();
      v.forEach((kg, k) => {
        moves.set(keys[r]![k]!, (moves.get(keys[r]![k]!) ?? 0) + kg);
      });
      const spread = lengthOf([...moves.values()]);
      const { mean, size } = meanOf(program, row, x);
      const above = mean - program.rows[row.row]!.lower;
      const sure = above >= -1e-9 * size ? Infinity : -Infinity;
      const n = nutrients.indexOf(row.nutrient);
      const room = spread > 1e-12 * size ? above / spread : sure;
      return { n, room, tight: room <= z[n]! + 1e-3, moves, spread };
    });
    const told = supplies
      .filter(({ room }) => room < NEVER)
      .filter(
        (one, r, all) =>
          !all.some(
            (other, k) =>
              other.n === one.n &&
              (k < r ? other.room <= one.room : other.room < one.room) &&
              correlation(other, one) > ALIKE,
          ),
      );
    this.#room = told;
    this.#correlation = told.map((a) => told.map((b) => (a === b ? 1 : correlation(a, b))));
    const impossible = told.some(({ room }) => room === -Infinity);
    const rooms = told.map(({ room }) => room);
    this.here = impossible ? 0 : orthantChance(rooms, this.#correlation, POINTS);
    this.#off = impossible ? -Infinity : normalQuantile(this.here) - normalQuantile(this.#roughly(z));
  }

  /** About the chance at other margins: what a margin holds moves with it, what lies above stays there. */
  at(z: Margins): number {
    return this.here === 0 ? 0 : normalCdf(normalQuantile(this.#roughly(z)) + this.#off);
  }

  #roughly(z: Margins): number {
    const rooms = this.#room.map(({ n, room, tight }) =>
      tight ? room + z[n]! - this.z[n]! : Math.max(room, z[n]!),
    );
    return roughChance(rooms, this.#correlation);
  }
}

interface Moves {
  readonly moves: ReadonlyMap<number, number>;
  readonly spread: number;
}

function correlation(a: Moves, b: Moves): number {
  let sum = 0;
  for (const [key, kg] of a.moves) sum += kg * (b.moves.get(key) ?? 0);
  return Math.min(1, Math.max(-1, sum / (a.spread * b.spread)));
}

/** Of mixes whose margins are all but the same, the last: their planes would be nearly parallel. */
const apart = (stages: readonly Stage[]): Stage[] =>
  stages.filter(
    ({ z }, k) =>
      !stages
        .slice(k + 1)
        .some((later) => later.z.every((margin, n) => Math.abs(margin - z[n]!) < NARROWEST)),
  );

/**
 * The margins that are cheapest by all planes at hand and as sure as asked by the model at one mix, none moved by more than
 * a step. The chance is held by tangents to its logarithm, which is concave.
 * @returns with what they would cost, and the price of more chance; null where the simplex came to nothing.
 */
function nextMargins(
  from: Stage,
  stages: readonly Stage[],
  walls: readonly Wall[],
  p: number,
  least: Margins,
  step: Margins,
): { readonly z: Margins; readonly cost: number; readonly price: number } | null {
  const { chance } = from;
  const low = from.z.map((z, n) => Math.max(least[n]!, z - step[n]!));
  const high = from.z.map((z, n) => Math.max(low[n]!, Math.min(MOST_MARGIN, z + step[n]!)));
  const wanted = Math.log(p + NEAR / 4);
  const draft = new Draft();
  const moved = from.z.map((_, n) => draft.column(`z${n}`, 0, high[n]! - low[n]!));
  const total = draft.column("cost", 1, Infinity);
  const scale = Math.max(Math.abs(from.cost), 1e-9);
  const lacking = draft.column("lacking", 100, Infinity);
  for (const { z, slope, cost } of apart(stages)) {
    // A plane that lies above the mix here is no plane under the cost: it is let down to it.
    const here =
      cost +
      dot(
        slope,
        from.z.map((one, n) => one - z[n]!),
      );
    const at =
      cost +
      Math.min(0, from.cost - here) +
      dot(
        slope,
        low.map((one, n) => one - z[n]!),
      );
    draft.row(other("plane"), [[total, 1], ...moved.map((j, n) => [j, -slope[n]! / scale] as const)], {
      lower: at / scale,
    });
  }
  for (const { direction, beyond } of walls)
    if (beyond < Infinity)
      draft.row(
        other("wall"),
        moved.map((j, n) => [j, direction[n]!] as const),
        { upper: Math.max(beyond - dot(direction, low), 0) },
      );
  const before = draft.rows.length;
  let at: Margins = from.z;
  let found: { z: Margins; cost: number; price: number } | null = null;
  for (let k = 0; k < MOST_TANGENTS; k++) {
    const value = Math.max(chance.at(at), 1e-12);
    const rise = at.map((_, n) => {
      const nudged = at.map((z, m) => (m === n ? z + NUDGE : z));
      return Math.max(0, Math.log(Math.max(chance.at(nudged), 1e-12)) - Math.log(value)) / NUDGE;
    });
    if (found && Math.log(value) >= wanted - NEAR / 2) break;
    draft.row(other("chance"), [[lacking, 1], ...moved.map((j, n) => [j, rise[n]!] as const)], {
      lower:
        wanted -
        Math.log(value) +
        dot(
          rise,
          at.map((z, n) => z - low[n]!),
        ),
    });
    const simplex = new Simplex(draft);
    if (simplex.optimise() !== "optimal") return found;
    const x = simplex.point();
    // Planes that are all but parallel can lead the simplex astray: by the one at this mix alone then.
    if (worstViolation(draft, x).amount > 1e-6)
      return stages.length > 1 ? nextMargins(from, [from], walls, p, least, step) : found;
    at = low.map((z, n) => z + x[moved[n]!]!);
    const duals = simplex.duals();
    const price = duals.slice(before).reduce((sum, y) => sum + y, 0);
    found = { z: at, cost: scale * x[total]!, price: (scale * Math.min(price, 100)) / p };
  }
  return found;
}

function dot(a: readonly number[], b: readonly number[]): number {
  return a.reduce((sum, one, k) => sum + one * b[k]!, 0);
}
