/**
 * Solves a program with integer columns and says how well that is proven.
 *
 * A search of our own goes first: it settles most purchases in a few milliseconds, without loading a larger solver,
 * and every leaf of it is certified. Where it is not done after a part of the time, HiGHS has turns in between, with what
 * was found so far and with a limit on time; the search keeps its tree and goes on with what HiGHS found. Whoever found
 * it, a point counts only with its whole numbers exact and every row recomputed; where the search does not come to its
 * end and what HiGHS says of bounds is more, the answer says whose word it is.
 */
import { branchAndBound, costStep, nextStep, settle, WholeSearch } from "./branch.ts";
import { other, type Program, type Row, rowOf, type Tag, termsOf } from "./program.ts";
import { costOf, costScale, MAX_GAP, worstViolation } from "./verify.ts";

export interface WholeOptions {
  /** A point that keeps every row, where one is known. */
  readonly start?: readonly number[] | null;
  /** For everything together. */
  readonly seconds?: number;
  /** Milliseconds, rising; handed in so that nothing here asks the time by itself. */
  readonly clock?: () => number;
  /** How long the first search may go on. */
  readonly nodes?: number;
  /** Leaves the larger solver out: what the first search does not settle stays open. */
  readonly alone?: boolean;
  /** Costs, one list after the other, that choose among points of equal cost. */
  readonly tieBreaks?: readonly (readonly number[])[];
}

/** The best point found, and what is known of it. `optimal`: the gap is proven to be nothing. */
export interface WholePoint {
  readonly status: "optimal" | "stopped";
  readonly x: readonly number[];
  readonly cost: number;
  /** No point costs less. */
  readonly bound: number;
  /** (cost - bound) / max(1, |cost|). */
  readonly gap: number;
  readonly maxViolation: number;
  readonly engine: string;
  /** The bound is the larger solver's word: the search here did not come to the end of proving it. */
  readonly claimed: boolean;
  /** How many nodes the search here took. */
  readonly nodes: number;
}

export type WholeAnswer =
  | WholePoint
  | { readonly status: "infeasible"; readonly engine: string; readonly claimed: boolean }
  /** Time ran out before any point was found. */
  | { readonly status: "nothing"; readonly bound: number };

/** How long several searches together may take, by a clock handed in (milliseconds, rising). */
export interface TimeLimit {
  readonly clock: () => number;
  /** Absent: `TIME_LIMIT`. */
  readonly seconds?: number;
}

/** Seconds for one purchase unless asked otherwise. */
export const TIME_LIMIT = 10;
/** Of the time, what the search here may use before the larger solver has its turn. */
const OWN_SHARE = 0.4;
/** Of the time that is left, what each turn of the larger solver may use; the search here goes on after each. */
const HIGHS_SHARES = [0.5, 1];
/** With less than this left the larger solver is not asked. */
const LEAST_SECONDS = 0.02;
/** How many times the first number of nodes the search may take after each turn. */
const AGAIN = 4;
const NODES = 15_000;
const TIE_NODES = 3_000;
export const OWN_ENGINE = "branch and bound";
const HIGHS = "highs";

/** Minimises over whole numbers. */
export async function solveWhole(program: Program, options: WholeOptions = {}): Promise<WholeAnswer> {
  const { start = null, clock = () => 0, seconds = TIME_LIMIT, nodes = NODES, tieBreaks = [] } = options;
  const deadline = clock() + seconds * 1000;
  const late = (): boolean => clock() >= deadline;
  const first = options.alone ? deadline : deadline - (1 - OWN_SHARE) * seconds * 1000;
  const search = new WholeSearch(program, start);
  let own = search.run({ nodes, stop: () => clock() >= first });
  let said = -Infinity;
  let saidNone = false;
  let theirs: readonly number[] | null = null;
  for (const share of HIGHS_SHARES) {
    const left = (deadline - clock()) / 1000;
    if (own.status === "finished" || options.alone || left <= LEAST_SECONDS) break;
    const { solveWithHighs } = await import("./engine-highs.ts");
    const more = await solveWithHighs(program, Math.max(0.05, share * left), own.x);
    const settled = more.x ? settle(program, more.x) : null;
    if (settled && search.offer(settled)) theirs = settled;
    said = Math.max(said, more.bound);
    saidNone = more.status === "infeasible";
    // The search goes on where it was, with what was found meanwhile.
    own = search.run({ nodes: own.nodes + AGAIN * nodes, stop: late });
    if (more.status !== "stopped") break;
  }
  const best = own.x;
  if (own.status === "finished" && !best) return { status: "infeasible", engine: OWN_ENGINE, claimed: false };
  if (!best && saidNone) return { status: "infeasible", engine: HIGHS, claimed: true };
  // Where the search came to its end, its own bound is all there is to say.
  const bound = own.status === "finished" ? own.bound : Math.max(own.bound, said);
  if (!best) return { status: "nothing", bound };
  const known = { bound, claimed: bound > own.bound, nodes: own.nodes };
  const engine =
    known.claimed || (theirs !== null && costOf(program, theirs) <= own.cost) ? HIGHS : OWN_ENGINE;
  const point = pointOf(program, best, known, engine);
  if (point.status !== "optimal") return point;
  return pointOf(program, chooseAmongEquals(program, best, point.cost, tieBreaks, late), known, engine);
}

/** A point with what is known of it. */
export function pointOf(
  program: Program,
  x: readonly number[],
  known: { readonly bound: number; readonly claimed?: boolean; readonly nodes: number },
  engine: string,
): WholePoint {
  const cost = costOf(program, x);
  const bound = Math.min(cost, nextStep(known.bound, costStep(program)));
  return {
    status: cost - bound <= MAX_GAP * costScale(program, x, cost) ? "optimal" : "stopped",
    x,
    cost,
    bound,
    gap: (cost - bound) / Math.max(1, Math.abs(cost)),
    maxViolation: worstViolation(program, x).amount,
    engine,
    claimed: known.claimed ?? false,
    nodes: known.nodes,
  };
}

/** Among points no dearer than `cost`, the least by each list of costs in turn; as far as the search comes. */
function chooseAmongEquals(
  program: Program,
  x: readonly number[],
  cost: number,
  tieBreaks: readonly (readonly number[])[],
  late: () => boolean,
): readonly number[] {
  let best = x;
  let current = program;
  let spent = cost;
  for (const costs of tieBreaks) {
    const step = costStep(current);
    const room = step > 0 ? step / 2 : 1e-9 * costScale(current, best, spent);
    const spentOn = termsOf(current.columns.map(({ cost }, j) => [j, cost]));
    current = {
      columns: current.columns.map((column, j) => ({ ...column, cost: costs[j]! })),
      rows: [...current.rows, rowOf(other("no dearer"), spentOn, { upper: spent + room })],
    };
    const found = branchAndBound(current, { nodes: TIE_NODES, stop: late }, best);
    if (!found.x) break;
    best = found.x;
    spent = found.cost;
    if (found.status !== "finished") break;
  }
  return best;
}

/**
 * The program with every whole number held at its value in `x`: continuous, with the same columns less the whole ones.
 * @returns the program, and for each of its columns the index it had.
 */
export function holdWhole<R extends Tag, C extends Tag>(program: Program<R, C>, x: readonly number[]) {
  const whole = x.map((amount, j) => (program.columns[j]!.integer ? Math.round(amount) : amount));
  return hold(program, whole, (j) => program.columns[j]!.integer === true);
}

/**
 * The program with some columns held at their amounts in `x`, and without the rows that no other column is in.
 * @returns the program, and for each of its columns the index it had.
 */
export function hold<R extends Tag, C extends Tag>(
  program: Program<R, C>,
  x: readonly number[],
  isHeld: (column: number) => boolean,
): { program: Program<R, C>; kept: readonly number[] } {
  const kept = program.columns.flatMap((_, j) => (isHeld(j) ? [] : [j]));
  const place = new Map(kept.map((j, k) => [j, k]));
  const rows = program.rows.flatMap((row): Row<R>[] => {
    let held = 0;
    const index: number[] = [];
    const value: number[] = [];
    row.index.forEach((j, k) => {
      const at = place.get(j);
      if (at === undefined) held += row.value[k]! * x[j]!;
      else {
        index.push(at);
        value.push(row.value[k]!);
      }
    });
    if (index.length === 0) return [];
    return [{ ...row, index, value, lower: row.lower - held, upper: row.upper - held }];
  });
  return { program: { columns: kept.map((j) => program.columns[j]!), rows }, kept };
}
