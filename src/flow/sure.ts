/**
 * The cheapest mix that is as sure as asked: margins on the needs, found by cutting planes, and what comes out worked
 * again over fixed seasons of the full model. Where those find less than was asked, more is asked and it is solved again.
 */

import { chancesOf, overMaxChances } from "../field/chances.ts";
import type { Amounts } from "../field/delivery.ts";
import { SeasonWork, type WorkedSeasons } from "../field/sureness.ts";
import type { Plan, SureAsked } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import type { BlendProgram } from "../program/build.ts";
import { type PlanSureRow, sureRows } from "../program/sure-rows.ts";
import { isNeed, type NeedTag, type PlanProgram, type RowTag } from "../program/tags.ts";
import type { Conflict } from "../results/solution.ts";
import type { NeedSureness, Shortfall, SureCertificate, Sureness } from "../results/sure.ts";
import type { Season } from "../season/season.ts";
import { layOutSpread, type SpreadSeason } from "../season/spread.ts";
import { spreadsAt } from "../solver/margin.ts";
import { normalQuantile } from "../solver/normal.ts";
import { Simplex } from "../solver/simplex.ts";
import { OWN_SIMPLEX, type Proven, relax } from "../solver/solve.ts";
import {
  type MergedCut,
  mergedCuts,
  missedCuts,
  nearlySure,
  type ProvenSure,
  pricedOf,
  type SureInfeasible,
  solveSure,
} from "../solver/sure.ts";
import type { Priced } from "../solver/sure-newton.ts";
import { MAX_VIOLATION, provesInfeasible, UnverifiedError } from "../solver/verify.ts";
import { demandWords } from "../words/demand-words.ts";
import { listed } from "../words/numbers.ts";
import { chancePercent, shortfallOf } from "../words/sure-words.ts";
import { amountsOf, type SolvedBlend, tieBreaks } from "./solve-blend.ts";
import { AIM_LEAST, goalsOf, isSettled, nextAim, tried } from "./sure-aims.ts";
import { inOwnOrder } from "./sure-order.ts";
import type { SharingOut } from "./sure-together.ts";

/** By nutrient: the share of seasons aimed at; those left out are not asked for. */
export type Levels = ReadonlyMap<Nutrient, number>;

/** What was asked, what was found, and all that shows it. */
export interface SureFound {
  /** What each need is aimed at; may be above what was asked, where the worked seasons called for it. */
  readonly levels: Levels;
  readonly rows: readonly PlanSureRow[];
  /** Null where nothing above 50 % was asked, so that the mix is the plain one. */
  readonly proven: ProvenSure | null;
  /** Null where no seasons were worked on this mix, since packs are still to choose another. */
  readonly worked: WorkedSeasons | null;
  readonly plainCost: number;
  readonly plainX: readonly number[];
  /** The plain program, to ask further questions of. */
  readonly base: BlendProgram;
}

/** That no mix is as sure as asked: why, and the surest there is. */
export interface SureFault {
  readonly conflict: Conflict;
  /** Each asked need as sure as asked, but none surer than `p`. */
  readonly surest: { readonly p: number; readonly amounts: Amounts; readonly cost: number };
}

const MOST_AIMS = 16;
/** Steps of certainty that are priced: 5, 7, 8 and 9 seasons of 10, and 19 of 20. */
export const STEPS = [0.5, 0.7, 0.8, 0.9, 0.95];
/** Nothing surer is aimed at in a dressing. */
export const AIM_MOST = 0.9999;
const BISECTIONS = 14;
/** Each of these is a search of its own. */
const TOGETHER_BISECTIONS = 8;
const HELD_BISECTIONS = 6;
const MOST_SIMPLE_ROUNDS = 40;

/** The nutrients that a plan asks to be sure of. */
export function askedNutrients({ sure }: { readonly sure?: SureAsked | undefined }): Set<Nutrient> {
  return new Set([...levelsOf(sure).keys(), ...(sure?.together?.nutrients ?? [])]);
}

/** In what share of seasons each nutrient is asked for by itself, and at most in so many. */
export function levelsOf(sure: SureAsked | undefined, most = 1): Levels {
  return new Map((sure?.each ?? []).map(({ nutrient, p }) => [nutrient, Math.min(p, most)]));
}

/** In how many worked seasons amounts meet the needs that are asked to be sure. */
export function workAsked(worker: SeasonWork, amounts: Amounts, sure = worker.plan.sure): WorkedSeasons {
  const asked = askedNutrients({ sure });
  return worker.work(amounts, ({ nutrient }) => asked.has(nutrient));
}

/** Standard deviations to keep for a level. */
function marginAt(p = 0.5): number {
  return p > 0.5 ? normalQuantile(p) : 0;
}

/** Finds mixes of one plan at any sureness, each from the cuts of the one before. */
export class SureSearch {
  readonly base: BlendProgram;
  readonly spread: SpreadSeason;
  private worker: SeasonWork | undefined;
  private sharing: { readonly key: string; readonly out: SharingOut } | undefined;
  /** Where the last search ended, and the rows that it was for. */
  private last: { readonly rows: readonly PlanSureRow[]; readonly near: Priced };

  constructor(
    readonly plan: Plan,
    { program, season }: Pick<SolvedBlend, "program" | "season">,
    x: readonly number[],
  ) {
    this.base = program;
    this.last = { rows: [], near: { x, y: program.rows.map(() => 0), prices: [] } };
    this.spread = layOutSpread(plan, season);
  }

  /** The same search from its beginning, in an order that names have no part in. */
  inOwnOrder(): SureSearch {
    const { plan, program } = inOwnOrder(this.plan, this.base);
    // Of several plain mixes of least cost, names choose the one that is known.
    const simplex = new Simplex(program);
    simplex.optimise();
    return new SureSearch(plan, { program, season: this.spread.season }, simplex.point());
  }

  rows(levels: Levels): PlanSureRow[] {
    return sureRows(this.plan, this.spread, this.base, (nutrient) => marginAt(levels.get(nutrient)));
  }

  /**
   * About the least cost at which some needs hold at their levels, for a search that goes on from there: not proven, and
   * ties fall as they will.
   * @param rows those of all the needs that a search may name, whatever their margins.
   * @returns without weights where no mix was found.
   */
  roughly(levels: Levels, rows: readonly PlanSureRow[]): ReturnType<typeof nearlySure> {
    const wanted = rows.map((row) => ({ ...row, z: marginAt(levels.get(row.nutrient)) }));
    const near = nearlySure(this.base, wanted, this.nearby(rows));
    if (near.x !== null) this.last = { rows, near };
    return near;
  }

  /**
   * The least cost at which each need holds at its level, or what rules that out.
   * @throws UnverifiedError
   */
  async at(levels: Levels): Promise<Reached> {
    const rows = this.rows(levels);
    const answer = await solveSure(this.base, rows, tieBreaks(this.base), this.nearby(rows));
    if (answer.status === "unverified")
      throw new UnverifiedError(
        `A mix that sure could not be verified (${answer.reason}); no mix is printed.`,
      );
    if (answer.status === "infeasible") return { found: null, none: answer };
    this.last = { rows, near: pricedOf(rows, answer.cuts, answer) };
    return { levels, rows, found: answer };
  }

  /** Where the last search ended, its prices by other rows. */
  private nearby(rows: readonly PlanSureRow[]): Priced {
    const { near, rows: before } = this.last;
    const prices = rows.map(({ nutrient, day }) => {
      const at = before.findIndex((one) => one.nutrient === nutrient && one.day === day);
      return near.prices[at] ?? 0;
    });
    return { ...near, prices };
  }

  amounts({ x }: Pick<ProvenSure, "x">): Amounts {
    return amountsOf(this.plan, this.base, x);
  }

  /** In how many worked seasons a mix meets the needs that are asked to be sure. */
  worked(mix: Pick<ProvenSure, "x">, asked: SureAsked): WorkedSeasons {
    this.worker ??= SeasonWork.after(this.plan);
    return workAsked(this.worker, this.amounts(mix), asked);
  }

  /** In what share of the worked seasons a mix meets what is asked to hold together. */
  together(mix: Pick<ProvenSure, "x">, asked: SureAsked, worked = this.worked(mix, asked)): number {
    const { each, together } = asked;
    const wider = together && each.some(({ nutrient }) => !together.nutrients.includes(nutrient));
    return wider ? this.worked(mix, { each: [], together }).together : worked.together;
  }

  /**
   * The least cost at which each need holds at its level and some hold together in a share `p` of the seasons.
   * @param cheapest whether it is to be the least cost; otherwise any mix that is as sure of what holds together.
   */
  async aim(each: Levels, together: SureAsked["together"], cheapest = true): Promise<Reached> {
    if (!together) return this.at(each);
    const key = JSON.stringify([[...each], together.nutrients]);
    if (this.sharing?.key !== key) {
      const { SharingOut } = await import("./sure-together.ts");
      this.sharing = { key, out: new SharingOut(this, each, together.nutrients) };
    }
    return this.sharing.out.reach(together.p, cheapest);
  }
}

/** A mix at some sureness. */
export interface Attained {
  readonly levels: Levels;
  readonly rows: readonly PlanSureRow[];
  readonly found: ProvenSure;
}

/** A mix at some sureness, or the rows that together rule it out. */
export type Reached = Attained | { readonly found: null; readonly none: SureInfeasible };

/**
 * Makes a proven plain mix as sure as its plan asks.
 * @throws UnverifiedError where no answer could be proven.
 */
export async function solveSurely(solved: SolvedBlend, plain: Proven): Promise<SolvedBlend> {
  const { plan } = solved;
  const asked = plan.sure ?? { each: [] };
  const search = new SureSearch(plan, solved, plain.x);
  const levels = levelsOf(asked);
  const shared = beforeMargins(solved, plain);
  if (search.rows(levels).length === 0 && !asked.together)
    return {
      ...solved,
      sure: { ...shared, levels, worked: search.worked(plain, asked) },
    };
  const held = await holdSurely(search, asked);
  if ("none" in held) return faulted(solved, plain, search, held.none);
  const { found, ...reached } = held.reached;
  return {
    ...solved,
    program: { ...solved.program, rows: (found.program as PlanProgram).rows },
    answer: { status: "optimal", engine: OWN_SIMPLEX, x: found.x, y: found.y, check: found.check },
    sure: { ...shared, ...reached, proven: found, worked: held.worked },
  };
}

/** A proven plain mix of a plan, for a search that gives it margins. */
export function beforeMargins(solved: SolvedBlend, plain: Proven): SureFound {
  const shared = { plainCost: plain.check.cost, plainX: plain.x, base: solved.program };
  return { ...shared, levels: new Map(), rows: [], proven: null, worked: null };
}

/** A mix that the worked seasons find as sure as asked. */
interface Held {
  readonly reached: Attained;
  readonly worked: WorkedSeasons;
}

/**
 * The cheapest mix at the asked levels. Where worked seasons find less than that, more is aimed at, and so much less again
 * that they just find it; of needs together, where they find more, less.
 * @returns `none` where no mix is as sure as asked.
 * @throws UnverifiedError where none was found and it is not shown that there is none.
 */
async function holdSurely(
  search: SureSearch,
  asked: SureAsked,
): Promise<Held | { readonly none: SureInfeasible }> {
  const goals = goalsOf(asked);
  const plain = levelsOf(asked, 0.5);
  let best: Held | null = null;
  let none: SureInfeasible | null = null;
  for (let tries = 0; tries < MOST_AIMS; tries++) {
    const all = goals.find(({ together }) => together);
    const reached = await search.aim(
      new Map([
        ...plain,
        ...goals.flatMap((one) => (one.together ? [] : [[one.nutrients[0]!, one.aim] as const])),
      ]),
      all && { nutrients: all.nutrients, p: all.aim },
    );
    if (reached.found === null) {
      none = reached.none;
      if (tries === 0) return { none };
      for (const goal of goals) if (goal.low) goal.high = { aim: goal.aim, met: null };
    } else {
      const worked = search.worked(reached.found, asked);
      const together = search.together(reached.found, asked, worked);
      const short = goals.map((goal) => tried(goal, worked, together)).includes(true);
      if (!short && !(best && best.reached.found.check.cost <= reached.found.check.cost))
        best = { reached, worked };
      else if (!short) break;
    }
    if (goals.every(isSettled)) break;
    for (const goal of goals) goal.aim = nextAim(goal);
  }
  if (best) return best;
  if (none) return { none };
  throw new UnverifiedError("Whether a mix is as sure as asked was not found in time; nothing is printed.");
}

/** What is asked, but nothing of it surer than `most`. */
function askedAtMost({ each, together }: SureAsked, most: number): SureAsked {
  return {
    each: each.map(({ nutrient, p }) => ({ nutrient, p: Math.max(0.5, Math.min(p, most)) })),
    ...(together ? { together: { ...together, p: Math.min(together.p, most) } } : {}),
  };
}

/** The answer where no mix is as sure as asked: the rows that rule it out, and the surest mix. */
async function faulted(
  solved: SolvedBlend,
  plain: Proven,
  search: SureSearch,
  beyond: SureInfeasible,
): Promise<SolvedBlend> {
  const { plan } = solved;
  const asked = plan.sure!;
  const mixAt = (p: number, { x, check }: Pick<Proven, "x" | "check">): SureFault["surest"] => ({
    p,
    amounts: search.amounts({ x }),
    cost: check.cost,
  });
  const { together } = asked;
  const least = together ? Math.min(0.5, search.together(plain, asked)) : 0.5;
  const most = Math.max(...asked.each.map(({ p }) => p), together?.p ?? 0);
  let none = beyond;
  // First where margins alone end, then where worked seasons agree.
  let [low, high] = [least, most];
  for (let k = 0; k < (together ? TOGETHER_BISECTIONS : BISECTIONS); k++) {
    const p = (low + high) / 2;
    const capped = askedAtMost(asked, p);
    const next = await search.aim(levelsOf(capped), capped.together, false);
    if (next.found !== null) low = p;
    else {
      high = p;
      none = next.none;
    }
  }
  let surest = mixAt(least, plain);
  high = low;
  for (let k = 0; k < HELD_BISECTIONS && high - surest.p > AIM_LEAST; k++) {
    const p = k === 0 ? high : (surest.p + high) / 2;
    const held = await holdSurely(search, askedAtMost(asked, p));
    if ("none" in held) high = p;
    else surest = mixAt(p, held.reached.found);
  }
  const ruled = ruledOut(plan, solved.program, none);
  const { program, elastic, rows } = ruled;
  const { certificate } = none;
  return {
    ...solved,
    program,
    answer: { status: "infeasible", engine: OWN_SIMPLEX, elastic, certificate, rows },
    sureFault: faultOf(plan, ruled, surest),
  };
}

/**
 * What rules out any mix so sure: the program with the cuts and the rows of it that show it together; of these in words what
 * is asked to be sure of, and the other demands.
 */
function ruledOut(plan: Plan, base: BlendProgram, none: SureInfeasible) {
  const program = { ...base, rows: (none.program as PlanProgram).rows };
  const elastic = relax(program);
  const shown = elastic && provesInfeasible(program, none.certificate);
  if (!shown)
    throw new UnverifiedError("It could not be verified that no mix is as sure as asked; no mix is printed.");
  const { rows } = shown;
  const tags = rows.map((i) => program.rows[i]!.tag).filter((tag) => tag.kind !== "stock");
  const asked = askedNutrients(plan);
  const levels = levelsOf(plan.sure);
  const isSure = (tag: RowTag): tag is NeedTag => isNeed(tag) && asked.has(tag.nutrient);
  const met = new Set(tags.filter(isSure).map(({ nutrient }) => nutrient));
  const nutrients = [...asked].filter((nutrient) => met.has(nutrient));
  const together = plan.sure?.together;
  const sure = [
    ...nutrients.flatMap((nutrient) => {
      const p = levels.get(nutrient);
      return p === undefined ? [] : [`${nutrient} met in ${chancePercent(p)} of seasons`];
    }),
    ...(together ? [`${listed(together.nutrients)} all met in ${chancePercent(together.p)} of seasons`] : []),
  ];
  const others = [...new Set(tags.filter((tag) => !isSure(tag)).map((tag) => demandWords(plan, tag)))];
  return { program, elastic, rows, tags, nutrients, sure, others };
}

/** Why no mix is so sure, from the rows that rule it out together. */
function faultOf(
  plan: Plan,
  { tags, nutrients, sure, others }: ReturnType<typeof ruledOut>,
  surest: SureFault["surest"],
): SureFault {
  const together = plan.sure?.together?.p;
  const levels = levelsOf(plan.sure);
  // How risk is shared out among needs is searched for, not proven.
  const none = together === undefined ? "No mix has" : "No mix was found that has";
  const reason =
    others.length > 0
      ? `${none} ${listed(sure)} while keeping to ${listed(others)}.`
      : `${none} ${listed(sure)}: what these materials hold and release varies too much for more of them to make it surer.`;
  const least = Math.floor(100 * surest.p) / 100;
  const way = `ask for ${chancePercent(least)} of seasons at most`;
  const better = "know better what varies (`analysed`, `varies`)";
  return {
    conflict: {
      text: `${reason} To make it possible, ${way}${others.length > 0 ? ", allow more of what is in the way" : ""}, or ${better}.`,
      reason,
      demands: [...sure, ...others],
      tags,
      relaxations: [
        {
          demand: listed(sure),
          tag: { kind: "sure", ...(nutrients.length === 1 ? { nutrient: nutrients[0]! } : {}) },
          unit: "share",
          from: Math.max(...nutrients.map((n) => levels.get(n) ?? together ?? 0), together ?? 0),
          to: surest.p,
          text: way,
        },
      ],
    },
    surest,
  };
}

/**
 * Keeps to `simple` as well, for a mix that is as sure as asked: where the few amendments lose a margin, its cut is added
 * and few are looked for again.
 */
export async function simpleAndSure(
  surely: SolvedBlend,
  sure: SureFound,
  solve: (blend: SolvedBlend, answer: Proven) => Promise<SolvedBlend>,
): Promise<SolvedBlend> {
  let blend = surely;
  for (let round = 0; round < MOST_SIMPLE_ROUNDS; round++) {
    if (blend.answer.status !== "optimal") break;
    const simple = await solve(blend, blend.answer);
    if (simple.answer.status !== "optimal") return simple;
    const { x } = simple.answer;
    const missed = missedCuts(sure.base, sure.rows, x, MAX_VIOLATION / 2);
    if (missed.length === 0) {
      const worked = workAsked(SeasonWork.after(surely.plan), amountsOf(surely.plan, sure.base, x));
      return { ...simple, sure: { ...sure, proven: null, worked } };
    }
    const rows = [...blend.program.rows, ...missed.map(({ row }) => row)];
    blend = { ...blend, program: { ...blend.program, rows } };
  }
  throw new UnverifiedError("A mix both simple and that sure was not found in time; allow more amendments.");
}

/** How often each need is met by amounts that nobody asked to be sure of: closed form, no seasons worked. */
export function plainSureness(plan: Plan, season: Season, amounts: Amounts): Sureness {
  const spread = layOutSpread(plan, season);
  return {
    asked: [],
    needs: chancesOf(plan, spread, amounts).map((need) => ({ ...need, pChecked: null })),
    together: null,
    seasons: 0,
    overMax: overMaxChances(plan, spread, amounts),
    certificate: [],
    bound: null,
    gap: null,
  };
}

const SHARED_OUT =
  "How the risk is shared among the needs was searched for: another sharing might cost a little less.";

/** How sure a mix is that was asked to be. */
export function surenessOf(plan: Plan, season: Season, amounts: Amounts, sure: SureFound): Sureness {
  const { proven } = sure;
  const certificate = proven ? certificateOf(sure.rows, proven) : [];
  const end = certificate.find(({ nutrient, day }) => nutrient === "N" && day === plan.seasonDays);
  const level = plan.sure?.each.find(({ nutrient }) => nutrient === end?.nutrient)?.p;
  return {
    ...workedSureness(plan, season, amounts, sure.worked ?? workAsked(SeasonWork.after(plan), amounts)),
    certificate,
    ...(plan.sure?.together
      ? { notes: [SHARED_OUT] }
      : { bound: proven?.check.dualBound ?? null, gap: proven?.check.gap ?? null }),
    plainCost: sure.plainCost,
    ...(end && level !== undefined
      ? { paysAbovePerKg: { nutrient: end.nutrient, perKg: end.price / (1 - level) } }
      : {}),
  };
}

/** How sure a mix is that was found in another way than by its sureness, such as one on whole bags. */
export function surenessFound(plan: Plan, season: Season, amounts: Amounts): Sureness {
  if (askedNutrients(plan).size > 0)
    return workedSureness(plan, season, amounts, workAsked(SeasonWork.after(plan), amounts));
  const plain = plainSureness(plan, season, amounts);
  if (!plan.past) return plain;
  const worked = SeasonWork.after(plan).work(amounts);
  return { ...plain, needs: workedNeeds(plain, worked), seasons: worked.seasons };
}

function workedNeeds({ needs }: Sureness, worked: WorkedSeasons): NeedSureness[] {
  const met = ({ nutrient, day }: NeedSureness): number | null =>
    worked.needs.find((need) => need.nutrient === nutrient && need.day === day)?.met ?? null;
  return needs.map((need) => ({ ...need, pChecked: met(need) }));
}

/** What a plan asks to be sure of, and in how many worked seasons it is met. */
function workedSureness(plan: Plan, season: Season, amounts: Amounts, worked: WorkedSeasons): Sureness {
  const plain = plainSureness(plan, season, amounts);
  // A reading moves what was thought so far that products bend away from the normal law: then every need is worked.
  const all = plan.past ? SeasonWork.after(plan).work(amounts) : worked;
  return {
    ...plain,
    asked: plan.sure?.each ?? [],
    ...(plan.sure?.together ? { askedTogether: plan.sure.together } : {}),
    needs: workedNeeds(plain, all),
    together: worked.together,
    seasons: worked.seasons,
  };
}

/** The sure needs that cost something, each with its price and the season it is ready for. */
function certificateOf(rows: readonly PlanSureRow[], proven: ProvenSure): SureCertificate[] {
  return mergedCuts(rows, proven).flatMap((cut, r) => {
    const row = rows[r]!;
    if (!(cut.price > 0)) return [];
    const { nutrient, day, z } = row;
    return [{ nutrient, day, z, price: cut.price, weakSeason: weakSeason(row, cut, proven.x) }];
  });
}

/** What falls short in the likeliest season that just meets a need, most first. */
function weakSeason(row: PlanSureRow, { u }: MergedCut, x: readonly number[]): Shortfall[] {
  const byWhat = new Map<string, Shortfall>();
  spreadsAt(row.factors, x).forEach((kg, k) => {
    const one = shortfallOf(row.doubts[k]!, row.z * u[k]! * kg);
    const key = `${one.kind} ${one.what}`;
    byWhat.set(key, { ...one, kg: one.kg + (byWhat.get(key)?.kg ?? 0) });
  });
  return [...byWhat.values()].filter(({ kg }) => kg > 0).sort((a, b) => b.kg - a.kg);
}
