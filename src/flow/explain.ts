/**
 * A plan that no mix can meet, explained: what cannot be kept together, what would have to give way and by how much,
 * what could be added, and how near a mix can come.
 */

import { batchCounts, heapsOf } from "../field/batches.ts";
import { type Amounts, deliver, sumKg, totalsKg } from "../field/delivery.ts";
import type { Amendment, Plan } from "../model.ts";
import { type BlendProgram, buildProgram, cheapestPricePerKg } from "../program/build.ts";
import { leastWorst } from "../program/closest.ts";
import { demandRows, disjointConflicts, leastGivingWay } from "../program/explain.ts";
import type { PlanRow, RowTag } from "../program/tags.ts";
import type { BedAnswer, ClosestMix, Conflict, GivingWay, Miss, Remedy } from "../results/solution.ts";
import { layOutSeason } from "../season/season.ts";
import { ConflictFinder } from "../solver/conflict.ts";
import { rowScale } from "../solver/program.ts";
import { Simplex } from "../solver/simplex.ts";
import { certify, type ProvenInfeasible, type Relaxation, relax } from "../solver/solve.ts";
import { costOf, unlessUnverified } from "../solver/verify.ts";
import {
  conflictReason,
  demandWords,
  givingWay,
  isFloor,
  isShare,
  statedBound,
  waysText,
} from "../words/demand-words.ts";
import { counted, listed, money, percent, weight } from "../words/numbers.ts";
import { amountsOf, type SolvedBlend, solveBlend, tieBreaks } from "./solve-blend.ts";
import type { SureFault } from "./sure.ts";

/** Deviations below this part of a demand are arithmetic. */
const NOTHING = 1e-7;

const NO_WAY_OUT = { leastRelaxation: [], remedies: [] } as const;
const NO_MIX: ClosestMix = { text: "", amendments: [], nutrients: [], cost: 0, misses: [] };

/** The parts of a bed's answer that only a plan without a mix has. */
export type Explanation = Pick<BedAnswer, "conflicts"> &
  Required<Pick<BedAnswer, "leastRelaxation" | "remedies" | "closest">>;

/**
 * Explains an infeasible plan.
 * @param candidates amendments that could be added, such as the shipped list; the plan's own are passed over.
 */
export async function explainInfeasible(
  solved: SolvedBlend,
  answer: ProvenInfeasible,
  candidates: readonly Amendment[] = [],
): Promise<Explanation> {
  const { plan, program } = solved;
  const { fault, nearest } = solved.simplicity ?? {};
  if (solved.sureFault)
    return {
      conflicts: [solved.sureFault.conflict],
      ...NO_WAY_OUT,
      closest: surestMix(solved, solved.sureFault),
    };
  if (fault)
    return {
      conflicts: [fault],
      ...NO_WAY_OUT,
      closest: nearest ? closestToSimple(solved, nearest) : NO_MIX,
    };
  const finder = new ConflictFinder(program);
  const sets = disjointConflicts(finder, answer.elastic, needsAboveCaps(solved));
  const conflicts = sets.map((rows): Conflict => {
    const others = new Set(sets.flatMap((set) => (set === rows ? [] : set)));
    const kept = new Set(demandRows(program).filter((i) => !others.has(i)));
    const tags = rows.map((i) => program.rows[i]!.tag);
    const relaxations = rows.flatMap((i): GivingWay[] => {
      const { tag } = program.rows[i]!;
      const by = leastGivingWay(program, finder, i, kept, isShare(tag) ? statedBound(plan, tag) : undefined);
      return by === null ? [] : [givingWay(plan, tag, moved(plan, tag, by))];
    });
    const reason = conflictReason(plan, tags);
    return {
      text: [reason, waysText(relaxations), eachOf(sets.length)].filter((part) => part !== "").join(" "),
      reason,
      demands: tags.map((tag) => demandWords(plan, tag)),
      tags,
      relaxations,
    };
  });
  return {
    conflicts,
    leastRelaxation: givenWay(
      solved,
      relax(program, measure(answer, solved), tiesOf(solved)) ?? answer.elastic,
    ),
    remedies: await remedies(solved, answer, candidates),
    closest: closestMix(solved, answer),
  };
}

/** That mending one conflict of several is not enough. */
function eachOf(conflicts: number): string {
  return conflicts > 1 ? `This is one of ${conflicts} conflicts, and each must be mended.` : "";
}

/** For each nutrient whose need is above its own cap on what is applied, the two rows: no choice of amendments helps. */
function needsAboveCaps({ plan, program, season }: SolvedBlend): number[][] {
  return plan.demands.flatMap(({ nutrient, minKg, appliedMaxKg, counts }) => {
    const credit =
      counts === "applied" ? season.creditInAllKg(nutrient) : season.creditKg(nutrient, plan.seasonDays);
    if (appliedMaxKg === null || minKg - credit <= appliedMaxKg) return [];
    const rows = program.rows.flatMap(({ tag }, i) =>
      (tag.kind === "season-min" || tag.kind === "applied-max") && tag.nutrient === nutrient ? [i] : [],
    );
    return [rows];
  });
}

/** The bound of a demand after it has given way by so much. */
function moved(plan: Plan, tag: RowTag, by: number): number {
  const from = statedBound(plan, tag);
  return isFloor(tag) ? Math.max(0, from - by) : from + by;
}

/**
 * By what a deviation of each row is measured. A share limit is measured against the weight of the closest mix, so
 * that a large bed is judged as a small one.
 */
function measure(answer: ProvenInfeasible, solved: SolvedBlend): (row: PlanRow) => number {
  const blendKg = solved.program.use.flat().reduce((sum, column) => sum + answer.elastic.x[column]!, 0);
  return (row) => 1 / (isShare(row.tag) && blendKg > 0 ? blendKg : rowScale(row));
}

/** What gave way in a relaxed program. A share is stated as it is in the mix found. */
function givenWay(solved: SolvedBlend, relaxation: Relaxation): GivingWay[] {
  const { plan, program } = solved;
  return relaxation.deviation.flatMap((by, i): GivingWay[] => {
    const row = program.rows[i]!;
    const { tag } = row;
    if (!(by > NOTHING * rowScale(row))) return [];
    if (!isShare(tag)) return [givingWay(plan, tag, moved(plan, tag, by))];
    if (tag.kind !== "share-min" && tag.kind !== "share-max") return [];
    const blend = program.blends.indexOf(tag.application);
    const whole = program.use.reduce((sum, columns) => sum + relaxation.x[columns[blend]!]!, 0);
    const a = plan.amendments.findIndex((amendment) => amendment.id === tag.id);
    const own = relaxation.x[program.use[a]![blend]!]!;
    return whole > 0 ? [givingWay(plan, tag, own / whole)] : [];
  });
}

/** Costs that choose among ways that give way alike. */
function tiesOf({ program }: SolvedBlend): number[][] {
  return [program.columns.map(({ cost }) => cost), ...tieBreaks(program)];
}

/** Needs give way first; caps and limits only where the needs alone do not make room. */
function closestMix(solved: SolvedBlend, answer: ProvenInfeasible): ClosestMix {
  const { plan, program } = solved;
  const weigh = measure(answer, solved);
  const ties = tiesOf(solved);
  const keptCaps = leastWorst(program, ties);
  const relaxation = keptCaps ?? relax(program, weigh, ties) ?? answer.elastic;
  const { x } = relaxation;
  return closestOf(
    solved,
    { amounts: amountsOf(plan, program, x), cost: costOf(program, x) },
    givenWay(solved, relaxation),
    keptCaps !== null ? "keeps every cap and limit and falls short of a need" : "breaks some demands",
  );
}

/** A mix, and what it costs. */
interface CostedMix {
  readonly amounts: Amounts;
  readonly cost: number;
}

/** The mix nearest to a plan that asks for fewer amendments, or more of each, than any mix has. */
function closestToSimple(solved: SolvedBlend, nearest: CostedMix): ClosestMix {
  const { plan } = solved;
  const { amounts } = nearest;
  const { most = Infinity, leastKg = 0 } = plan.simple ?? {};
  const counts = batchCounts(plan, amounts);
  const weights = heapsOf(plan, amounts).map((heap, b) =>
    heap.flatMap((kg) => (kg > 0 ? [kg / Math.max(1, counts[b]!)] : [])),
  );
  const longest = Math.max(...weights.map((each) => each.length));
  const smallest = Math.min(...weights.flat());
  const misses: Miss[] = [];
  if (longest > most)
    misses.push({
      demand: `at most ${counted(most, "amendment")} in a blend`,
      tag: { kind: "simple-most" },
      unit: "count",
      from: most,
      to: longest,
      text: `allow ${counted(longest, "amendment")} in a blend (now ${most})`,
    });
  if (smallest < leastKg * (1 - 1e-6))
    misses.push({
      demand: `at least ${weight(leastKg, plan.units)} of each amendment in a batch`,
      tag: { kind: "simple-least" },
      unit: "kg",
      from: leastKg,
      to: smallest,
      text: `allow ${weight(smallest, plan.units)} of an amendment in a batch (now ${weight(leastKg, plan.units)})`,
    });
  return closestOf(solved, nearest, misses, "meets every need and is not as simple as the plan asks");
}

/** The surest mix, where none is as sure as asked. */
function surestMix(solved: SolvedBlend, { conflict, surest }: SureFault): ClosestMix {
  const misses = (conflict.relaxations ?? []).map((way): Miss => ({ ...way, to: surest.p }));
  return closestOf(solved, surest, misses, "meets every need, but not as surely as asked");
}

/**
 * A mix as the one that comes nearest. Traces that arithmetic leaves of an amendment are none of it.
 * @param kept what it does of the plan, as a clause.
 */
function closestOf(
  { plan, season }: SolvedBlend,
  { amounts, cost }: CostedMix,
  misses: readonly Miss[],
  kept: string,
): ClosestMix {
  const kg = totalsKg(amounts);
  const traceKg = NOTHING * sumKg(kg);
  const amendments = plan.amendments
    .map(({ id, name }, a) => ({ id, name, kg: kg[a]! }))
    .filter((used) => used.kg > traceKg);
  const parts = amendments.map((used) => `${weight(used.kg, plan.units)} of ${used.name}`);
  const shown = ({ unit, to }: Miss): string => {
    if (unit === "count") return counted(to, "amendment");
    return to <= 0 ? "none" : unit === "kg" ? weight(to, plan.units) : percent(to);
  };
  const where = misses.map((miss) => `${shown(miss)} instead of ${miss.demand}`);
  return {
    text:
      amendments.length === 0
        ? "Spreading nothing comes closest."
        : `The closest mix ${kept}; it is no answer to the plan. ${listed(parts)} would give ${listed(where)}.`,
    amendments,
    nutrients: deliver(plan, season, amounts),
    cost,
    misses,
  };
}

/** How many remedies are worth reading. */
const MOST_REMEDIES = 3;

/** Amendments that could be added: not the plan's own, not what it turned away, nothing of doubtful standing. */
function suitable(plan: Plan, candidates: readonly Amendment[]): Amendment[] {
  const own = new Set(plan.amendments.map((a) => a.id));
  const turnedAway = new Set(plan.leftOut.filter((l) => l.why === "excluded").map((l) => l.id));
  const allows = (organic: Amendment["organic"]) => plan.amendments.some((a) => a.organic === organic);
  const raw = plan.amendments.some((a) => a.kind === "manure-raw");
  const salty = plan.amendments.some(isSalty);
  return candidates.filter(
    (a) =>
      !own.has(a.id) &&
      !turnedAway.has(a.id) &&
      (a.organic !== "prohibited" || allows("prohibited")) &&
      (a.kind !== "manure-raw" || raw) &&
      (!isSalty(a) || salty) &&
      cheapestPricePerKg(a) !== null,
  );
}

/** Brings nitrogen or potash with much sodium or chloride, which other sources do not. */
function isSalty({ analysis }: Amendment): boolean {
  const ballast = (analysis.Na ?? 0) + (analysis.Cl ?? 0);
  return ballast >= 0.1 && (analysis.N ?? 0) + (analysis.K2O ?? 0) > 0;
}

/**
 * Candidates whose column lowers the least total giving way. Only these can mend a plan by themselves: the duals of
 * the relaxed program price every column there could be.
 */
function helpful(
  { plan }: SolvedBlend,
  { elastic }: ProvenInfeasible,
  candidates: readonly Amendment[],
): Amendment[] {
  const wider = planWith(plan, candidates);
  const { columns, rows, use } = buildProgram(wider, layOutSeason(wider));
  const gain = columns.map(() => 0);
  const size = columns.map(() => 0);
  rows.forEach(({ index, value }, i) => {
    const y = elastic.y[i] ?? 0;
    index.forEach((j, k) => {
      const term = y * value[k]!;
      gain[j]! += term;
      size[j]! += Math.abs(term);
    });
  });
  return candidates.filter(({ id }) => {
    const a = wider.amendments.findIndex((amendment) => amendment.id === id);
    return use[a]!.some((j) => gain[j]! > 1e-9 * size[j]!);
  });
}

/** Single additions that make the plan work, cheapest first; failing those, a smallest group that does. */
async function remedies(
  solved: SolvedBlend,
  answer: ProvenInfeasible,
  candidates: readonly Amendment[],
): Promise<Remedy[]> {
  const { plan } = solved;
  const useful = suitable(plan, candidates);
  const found: Remedy[] = [];
  for (const amendment of helpful(solved, answer, useful)) {
    const mended = await costWith(plan, [amendment]);
    if (mended) found.push(remedy(plan, [amendment], mended));
  }
  found.sort((a, b) => a.cost - b.cost || (a.add[0]!.id < b.add[0]!.id ? -1 : 1));
  if (found.length > 0) return found.slice(0, MOST_REMEDIES);
  const group = await smallestGroup(plan, useful);
  return group ? [remedy(plan, group.add, group.mended)] : [];
}

/** The cheapest mix with something added: what it costs, and kg by id. */
interface Mended {
  readonly cost: number;
  readonly kg: ReadonlyMap<string, number>;
}

function remedy(plan: Plan, amendments: readonly Amendment[], { cost, kg }: Mended): Remedy {
  const add = amendments.map(({ id, name }) => ({ id, name, kg: kg.get(id) ?? 0 }));
  const what = listed(add.map((one) => `${weight(one.kg, plan.units)} of ${one.name}`));
  return {
    add,
    cost,
    text: `Add ${what}: the cheapest mix with it costs ${money(cost, plan.currency)} by weight.`,
  };
}

function planWith(plan: Plan, add: readonly Amendment[]): Plan {
  const amendments = [...plan.amendments, ...add.map((a) => ({ ...a, stockKg: 0 }))];
  amendments.sort((a, b) => (a.id < b.id ? -1 : 1));
  return { ...plan, amendments };
}

/** Least cost with amendments added; null where there is still no mix, or none that can be proven. */
function costWith(plan: Plan, add: readonly Amendment[]): Promise<Mended | null> {
  return unlessUnverified(leastCost(planWith(plan, add)));
}

async function leastCost(plan: Plan): Promise<Mended | null> {
  if (plan.simple) {
    const { answer, program } = await solveBlend(plan);
    return answer.status === "optimal" ? mendedBy(plan, program, answer.x, answer.check.cost) : null;
  }
  const program = buildProgram(plan, layOutSeason(plan));
  const found = certify(program, new Simplex(program));
  return found?.status === "optimal" ? mendedBy(plan, program, found.x, found.check.cost) : null;
}

function mendedBy(plan: Plan, { use }: BlendProgram, x: readonly number[], cost: number): Mended {
  const kg = plan.amendments.map(({ id }, a) => [id, sumKg(use[a]!.map((j) => x[j]!))] as const);
  return { cost, kg: new Map(kg) };
}

/** A group of additions of which none can be spared. */
async function smallestGroup(
  plan: Plan,
  useful: readonly Amendment[],
): Promise<{ add: readonly Amendment[]; mended: Mended } | null> {
  if (useful.length === 0) return null;
  let mended = await costWith(plan, useful);
  if (mended === null) return null;
  const { kg } = mended;
  let add = useful.filter(({ id }) => (kg.get(id) ?? 0) > 0);
  for (const candidate of [...add]) {
    const fewer = add.filter((a) => a !== candidate);
    const without = fewer.length === 0 ? null : await costWith(plan, fewer);
    if (without === null) continue;
    add = fewer;
    mended = without;
  }
  return { add, mended };
}
