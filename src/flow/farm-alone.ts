/**
 * Beds that get one material alone beside their mix. Which one, and how much, multiplies with what the mix is made of, so no
 * search here proves anything: from several mixes, each bed is given the mix and the material that feed it for the least, then
 * each mix is made anew for what its beds still ask of it, in turn until nothing gets cheaper. What is proven is the least
 * that all beds cost by weight, each with a mix of its own and anything straight from its bag.
 */
import type { Amendment } from "../model.ts";
import type { BlendProgram } from "../program/build.ts";
import { type Brings, besideLone, type Lone, type LoneEffects, loneEffects } from "../program/lone.ts";
import { type MixRow, missOf } from "../program/shared-mix.ts";
import { type Entry, other, type Row, rowOf, termsOf } from "../solver/program.ts";
import { nearlySure, type SureRow, solveSure } from "../solver/sure.ts";
import type { FarmBed, FarmBeds } from "./farm-beds.ts";
import type { Partition } from "./farm-partition.ts";
import { type Kind, MixValues } from "./farm-value.ts";
import type { SolvedBed } from "./purchase.ts";

/** A division by weight: each kind of bed with its mix and what it gets beside. */
export interface LoneDivision {
  /** Kinds by mix; those that need no mix are in none. */
  readonly groups: Partition;
  /** kg of each amendment, in no certain amount. */
  readonly mixes: readonly Mix[];
  /** By kind. */
  readonly lone: readonly (Lone | null)[];
  /** By weight. */
  readonly cost: number;
}

type Mix = readonly number[];
type Terms = { readonly index: readonly number[]; readonly value: readonly number[] };

const pricesOf = (mix: Mix, prices: readonly number[]): number =>
  mix.reduce((sum, kg, a) => sum + kg * prices[a]!, 0);

/** One way to feed a kind of bed with a mix at hand. */
interface Response {
  readonly cost: number;
  /** kg of the mix, for a mix of one unit of money. */
  readonly taken: number;
  readonly lone: Lone | null;
  /** Money per unit of each row that counts what is given alone; empty where it is not fed. */
  readonly worth: readonly number[];
}

const NONE: Response = { cost: Infinity, taken: 0, lone: null, worth: [] };
/** A share of the mix missed by less than this counts as kept. */
const KEPT = 1e-9;
/** An amount below this share of the largest is none. */
const NOTHING = 1e-9;
/** A material that saves less than this share of what its bed costs is not worth another bag to carry. */
const WORTH_IT = 2e-3;
const MOST_ROUNDS = 40;
/** So many divisions are looked at more closely, the cheapest first. */
const MOST_BENT = 4;
/** Of a mix, how much more or less of one material is tried. */
const MOST_STEP = 0.5;
/** Below this share of a mix no more or less of a material is tried. */
const LEAST_STEP = 2e-3;
/** A round that saves less than this share is the last. */
const SETTLED = 1e-7;
/** From so many kinds of bed a search begins with their own mixes. */
const MOST_FIRSTS = 8;

/** Searches for what beds get alone. */
export class LoneSearch {
  private readonly effects: readonly LoneEffects[];
  /** By kind, its rows that count what is given alone. */
  private readonly counted: readonly (readonly { readonly row: MixRow; readonly brings: Brings }[])[];
  private readonly values: MixValues;
  private readonly responses = new WeakMap<Mix, Response[]>();
  private readonly mixes = new Map<string, Mix>();

  /** @param pinned kinds that are in one mix, by mix. */
  constructor(
    private readonly kinds: readonly Kind[],
    private readonly farm: FarmBeds,
    amendments: readonly Amendment[],
    private readonly pinned: Partition,
  ) {
    this.effects = kinds.map(({ members }) => {
      const { solved, base, sure } = farm.beds[members[0]!]!;
      return loneEffects({ plan: solved.plan, season: solved.season, base, sure }, amendments);
    });
    this.counted = kinds.map(({ bed }, k) =>
      bed.rows.flatMap((row, i) => {
        const brings = this.effects[k]!.rows[i]!;
        return brings ? [{ row, brings }] : [];
      }),
    );
    this.values = new MixValues(
      kinds.map(({ bed }) => bed),
      farm.prices,
    );
  }

  /**
   * The best divisions into at most so many mixes that the search finds, cheapest first, each different.
   * @param known divisions without anything alone.
   */
  best(most: number, known: readonly Partition[], stop: () => boolean): LoneDivision[] {
    const begun = [...this.starts(most, known)].flatMap((mixes) => this.settled(mixes) ?? []);
    const found = new Map<string, LoneDivision>();
    for (const [i, one] of begun.sort((a, b) => a.cost - b.cost).entries()) {
      const { groups, ...best } = i < MOST_BENT ? this.improved(one, stop) : one;
      const used = groups.filter((group) => group.length > 0);
      const name = JSON.stringify([used, best.lone.map((its) => its?.amendment ?? null)]);
      if (best.cost < (found.get(name)?.cost ?? Infinity)) found.set(name, { ...best, groups: used });
    }
    return [...found.values()].sort((a, b) => a.cost - b.cost);
  }

  /** Mixes to begin from: of known divisions, of each but one bed, of beds that suit each other worst. */
  private *starts(most: number, known: readonly Partition[]): Generator<Mix[]> {
    const mixOf = (set: readonly number[]): Mix => {
      const key = set.join();
      const mix = this.mixes.get(key) ?? this.values.value(set, { gap: 1e-4 }).mix;
      this.mixes.set(key, mix);
      return mix;
    };
    const all = this.kinds.map((_, k) => k);
    const divisions = [...known];
    if (most === 1 && all.length > 1) divisions.push(...all.map((k) => [all.filter((one) => one !== k)]));
    for (const groups of divisions) {
      const mixes = [...groups].sort((a, b) => this.pinIn(a) - this.pinIn(b)).map(mixOf);
      if (mixes.every((mix) => mix.length > 0)) yield mixes;
    }
    const own = this.values.beds.map(({ own }) => own);
    if (most >= all.length) {
      const mixes = all.map((k) => mixOf([k]));
      if (mixes.every((mix) => mix.length > 0)) yield mixes;
      return;
    }
    const firsts = [...all].sort((a, b) => own[b]! - own[a]!).slice(0, MOST_FIRSTS);
    for (const first of firsts) {
      const mixes = this.pinned.length > 0 ? this.pinned.map(([k]) => mixOf([k!])) : [mixOf([first])];
      while (mixes.length < most) {
        const extra = all.map((k) => Math.min(...mixes.map((mix) => this.response(k, mix).cost)) - own[k]!);
        const worst = extra.indexOf(Math.max(...extra));
        if (!(extra[worst]! > 0)) break;
        mixes.push(mixOf([worst]));
      }
      if (mixes.every((mix) => mix.length > 0)) yield mixes;
      if (this.pinned.length > 0) break;
    }
  }

  /** Which of the pinned mixes a group is; beyond all of them where it is none. */
  private pinIn(group: readonly number[]): number {
    const at = this.pinned.findIndex((kinds) => group.includes(kinds[0]!));
    return at < 0 ? this.pinned.length : at;
  }

  /** The same by mixes that are bent and made anew in turn, until neither saves any more. */
  private improved(begun: LoneDivision, stop: () => boolean): LoneDivision {
    let best = begun;
    while (!stop()) {
      const next = this.settled(best.mixes.map((mix, g) => this.bent(mix, best.groups[g]!, stop)));
      if (!next || next.cost >= best.cost * (1 - SETTLED)) break;
      best = next;
    }
    return best;
  }

  /** A mix with a little more or less of one material after the other, as long as its beds then cost less. */
  private bent(mix: Mix, group: readonly number[], stop: () => boolean): Mix {
    const costOf = (one: Mix, within = Infinity): number => {
      let sum = 0;
      for (const k of group) {
        sum += this.response(k, one).cost;
        if (sum >= within) return Infinity;
      }
      return sum;
    };
    let [best, cost] = [mix, costOf(mix)];
    let slopes = this.slopesAt(best, group);
    // First what the prices of the rows speak for; at a corner they may not tell, and all is tried.
    const pass = (step: number, isLikely: (a: number, sign: number) => boolean): boolean => {
      const before = cost;
      for (const a of mix.keys())
        for (const sign of [1, -1]) {
          if (stop() || (sign < 0 && best[a] === 0) || !isLikely(a, sign)) continue;
          const part = sign * step * best.reduce((sum, kg) => sum + kg, 0);
          const next = best.map((kg, i) => (i === a ? Math.max(0, kg + part) : kg));
          const there = costOf(next, cost * (1 - SETTLED));
          if (there === Infinity) continue;
          [best, cost, slopes] = [next, there, this.slopesAt(next, group)];
        }
      return cost < before;
    };
    for (let step = MOST_STEP; step > LEAST_STEP && group.length > 0; step /= 2)
      while (pass(step, (a, sign) => !(sign * slopes[a]! >= 0)) || pass(step, () => true));
    return best;
  }

  /** By amendment: what its beds cost more for a kg more of it in a mix, by the prices of their rows; not known with margins. */
  private slopesAt(mix: Mix, group: readonly number[]): number[] {
    const slopes = [...this.farm.prices.keys()].map(() => 0);
    for (const k of group) {
      const { taken, worth } = this.response(k, mix);
      if (this.kinds[k]!.bed.cones.length > 0) return slopes.map(() => Number.NaN);
      this.farm.prices.forEach((price, a) => {
        slopes[a]! += taken * price;
      });
      this.counted[k]!.forEach(({ row: { index, value } }, i) => {
        index.forEach((a, at) => {
          slopes[a]! -= taken * worth[i]! * value[at]!;
        });
      });
    }
    return slopes;
  }

  /** Each mix made anew for what its beds ask beside what they get alone, and the beds given to the mixes, in turn. */
  private settled(start: readonly Mix[]): LoneDivision | null {
    let mixes = start;
    let best: LoneDivision | null = null;
    for (let round = 0; round < MOST_ROUNDS; round++) {
      const next = this.assigned(mixes);
      if (!next || (best && next.cost >= best.cost * (1 - SETTLED))) break;
      best = next;
      mixes = next.groups.map((group, g) => (group.length > 0 ? this.mixFor(group, next.lone) : mixes[g]!));
      if (mixes.some((mix) => mix.length === 0)) break;
    }
    return best;
  }

  /** Each kind with the mix and the material that feed it for the least; null where none feeds one of them. */
  private assigned(mixes: readonly Mix[]): LoneDivision | null {
    const groups: number[][] = mixes.map(() => []);
    const lone: (Lone | null)[] = [];
    let cost = 0;
    for (const k of this.kinds.keys()) {
      const pinned = this.pinned.findIndex((kinds) => kinds.includes(k));
      let [best, at] = [NONE, -1];
      mixes.forEach((mix, g) => {
        if (pinned >= 0 && pinned !== g) return;
        const one = this.response(k, mix);
        if (one.cost < best.cost) [best, at] = [one, g];
      });
      if (at < 0) return null;
      if (best.taken > 0) groups[at]!.push(k);
      lone.push(best.lone);
      cost += best.cost;
    }
    return { groups, mixes, lone, cost };
  }

  /** The cheapest mix for what kinds still ask beside what they get alone. */
  private mixFor(group: readonly number[], lone: readonly (Lone | null)[]): Mix {
    const beds = group.map((k) => besideLone(this.kinds[k]!.bed, this.effects[k]!, lone[k]!));
    return new MixValues(beds, this.farm.prices).value([...beds.keys()], { gap: 1e-8 }).mix;
  }

  /** What feeds a kind of bed for the least with a mix at hand and one material beside it. */
  private response(k: number, mix: Mix): Response {
    let byKind = this.responses.get(mix);
    if (!byKind) {
      byKind = [];
      this.responses.set(mix, byKind);
    }
    byKind[k] ??= this.responseTo(k, mix);
    return byKind[k];
  }

  private responseTo(k: number, mix: Mix): Response {
    const [{ bed }, { may }, rows] = [this.kinds[k]!, this.effects[k]!, this.counted[k]!];
    const { prices } = this.farm;
    let best = this.fed(k, mix, null);
    const { worth } = best;
    // By the prices of the rows as they are, what costs more than it brings has no place; margins bend these prices.
    const mayPay = (a: number): boolean =>
      worth.length === 0 ||
      bed.cones.length > 0 ||
      may[a]!.some((allowed, t) => {
        const saves = rows.reduce((sum, { brings }, i) => sum + worth[i]! * brings[a]![t]!, 0);
        return allowed && saves > prices[a]! * (1 + NOTHING);
      });
    for (const a of may.keys()) {
      if (!may[a]!.includes(true) || !mayPay(a)) continue;
      const one = this.fed(k, mix, a);
      if (one.cost < best.cost * (1 - (best.lone ? NOTHING : WORTH_IT))) best = one;
    }
    return best;
  }

  private fed(k: number, mix: Mix, a: number | null): Response {
    const [{ bed }, effects, counted, { prices }] = [
      this.kinds[k]!,
      this.effects[k]!,
      this.counted[k]!,
      this.farm,
    ];
    const may = a === null ? [] : effects.may[a]!;
    const rounds = [...may.keys()].filter((t) => may[t]);
    const barred =
      mix.some((kg, i) => kg > 0 && !bed.may[i]) ||
      bed.rows.some((row, i) => effects.rows[i] === null && missOf(row, mix, 0) > KEPT);
    const ofMix = { tag: other("mix"), cost: pricesOf(mix, prices), upper: barred ? 0 : Infinity };
    const alone = rounds.map((t) => ({ tag: other(`alone ${t}`), cost: prices[a!]!, upper: Infinity }));
    const columns = [ofMix, ...alone];
    const entriesOf = ({ index, value }: Terms, brings: Brings): Entry[] => [
      [0, index.reduce((sum, i, at) => sum + value[at]! * mix[i]!, 0)],
      ...rounds.map((t, j): Entry => [1 + j, brings[a!]![t]!]),
    ];
    const asked = (row: MixRow, brings: Brings): Row =>
      rowOf(row.tag, termsOf(entriesOf(row, brings)), { lower: row.bound, scale: row.scale });
    const rows = counted.map(({ row, brings }) => asked(row, brings));
    const sure = bed.cones.map(({ row, z, factors }, i): SureRow => {
      const own = effects.cones[i]!;
      const at = rows.push(asked(row, own.row)) - 1;
      const moved = own.factors.map((brings, f) => {
        const { constant = 0, ...terms } = factors[f] ?? { index: [], value: [] };
        return { ...termsOf(entriesOf(terms, brings)), constant };
      });
      return { row: at, z, factors: moved };
    });
    const near = nearlySure({ columns, rows }, sure);
    if (near.x === null) return NONE;
    const { x, y } = near;
    const largest = Math.max(...x);
    const kg = effects.may[0]!.map(() => 0);
    rounds.forEach((t, j) => {
      if (x[1 + j]! > NOTHING * largest) kg[t] = x[1 + j]!;
    });
    return {
      cost: columns.reduce((sum, column, j) => sum + column.cost * x[j]!, 0),
      taken: x[0]! > NOTHING * largest ? x[0]! : 0,
      lone: a !== null && kg.some((one) => one > 0) ? { amendment: a, kg } : null,
      worth: y,
    };
  }

  /** What each bed of the farm gets alone, and the beds with what they then ask of a mix. */
  bedsOf({ lone }: LoneDivision): {
    readonly beds: readonly FarmBed[];
    readonly lone: readonly (Lone | null)[];
  } {
    const own: (Lone | null)[] = this.farm.beds.map(() => null);
    const beds = [...this.farm.beds];
    this.kinds.forEach(({ bed, members }, k) => {
      const all = lone[k]!;
      if (all === null) return;
      for (const b of members) {
        const part = this.farm.beds[b]!.asks.kg / bed.kg;
        own[b] = { ...all, kg: all.kg.map((kg) => kg * part) };
        beds[b] = { ...beds[b]!, asks: besideLone(beds[b]!.asks, this.effects[k]!, own[b]!) };
      }
    });
    return { beds, lone: own };
  }

  /**
   * Every bed of the farm with a mix of its own, the whole shed, and anything straight from its bag: all that a plan with one
   * material alone can do, and more. Its program, without margins, and what it costs by weight with them, which duals prove.
   */
  async bounds(
    amendments: readonly Amendment[],
  ): Promise<readonly { readonly bed: SolvedBed; readonly least: number }[]> {
    const found = new Map<number, { readonly bed: SolvedBed; readonly least: number }>();
    for (const [k, { members }] of this.kinds.entries())
      for (const b of members) found.set(b, await boundOf(this.farm.beds[b]!, this.effects[k]!, amendments));
    return this.farm.beds.map((_, b) => found.get(b)!);
  }
}

async function boundOf(
  { solved, base, sure }: FarmBed,
  { program, cones, may }: LoneEffects,
  amendments: readonly Amendment[],
): Promise<{ readonly bed: SolvedBed; readonly least: number }> {
  const columns: BlendProgram["columns"][number][] = [...base.columns];
  const entries = base.rows.map((row) => row.index.map((j, k): Entry => [j, row.value[k]!]));
  const factors = cones.map((cone, i) =>
    cone.factors.map((_, f) => {
      const { index = [], value = [], constant = 0 } = sure[i]!.factors[f] ?? {};
      return { constant, entries: index.map((j, k): Entry => [j, value[k]!]) };
    }),
  );
  const use = solved.plan.amendments.map(({ id }, i) => {
    const a = amendments.findIndex((one) => one.id === id);
    const [stirred] = base.use[i] as [number];
    const own = [stirred];
    may[a]!.forEach((allowed, t) => {
      if (!allowed) return;
      const tag = { kind: "use", id, application: t } as const;
      const j = columns.push({ tag, cost: base.columns[stirred]!.cost, upper: Infinity }) - 1;
      own.push(j);
      base.rows.forEach(({ tag: of }, r) => {
        const brings = program[r] ? program[r][a]![t]! : 0;
        entries[r]!.push([j, of.kind === "stock" && of.id === id ? 1 : brings]);
      });
      cones.forEach((cone, c) => {
        cone.factors.forEach((brings, f) => {
          factors[c]![f]!.entries.push([j, brings[a]![t]!]);
        });
      });
    });
    return own;
  });
  const rows = base.rows.map((row, r) => ({ ...row, ...termsOf(entries[r]!) }));
  const margins = sure.map(({ row, z }, i) => ({
    row,
    z,
    factors: factors[i]!.map((one) => ({ ...termsOf(one.entries), constant: one.constant })),
  }));
  const answer = await solveSure({ columns, rows }, margins);
  const worth = columns.map(({ tag }, j) => (tag.kind === "use" ? (base.worth[j] ?? 0) : 0));
  const x = columns.map((_, j) => solved.answer.x[j] ?? 0);
  return {
    bed: { ...solved, program: { ...base, columns, rows, use, worth }, answer: { ...solved.answer, x } },
    least: answer.status === "optimal" ? answer.check.dualBound : 0,
  };
}
