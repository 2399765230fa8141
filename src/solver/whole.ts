/**
 * Solves a program with integer columns and says how well that is proven.
 *
 * A search of our own goes first: it settles most purchases in a few milliseconds, without loading a larger solver,
 * and every leaf of it is certified. What it leaves open goes to HiGHS, with what was found so far and with a limit
 * on time. Whoever found it, a point counts only with its whole numbers exact and every row recomputed; what HiGHS says
 * of bounds is searched again from its point, and where the time does not suffice for that the answer says whose word it is.
 */
import { branchAndBound, costStep, nextStep, settle } from "./branch.ts";
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
/** Of the time, what the first search may use before the larger solver has its turn. */
const OWN_SHARE = 0.4;
const NODES = 15_000;
const TIE_NODES = 3_000;
export const OWN_ENGINE = "branch and bound";
const HIGHS = "highs";

/** Minimises over whole numbers. */
export async function solveWhole(program: Program, options: WholeOptions = {}): Promise<WholeAnswer> {
  const { start = null, clock = () => 0, seconds = TIME_LIMIT, nodes = NODES } = options;
  const deadline = clock() + seconds * 1000;
  const late = (): boolean => clock() >= deadline;
  const half = options.alone ? deadline : deadline - (1 - OWN_SHARE) * seconds * 1000;
  const own = branchAndBound(program, { nodes, stop: () => clock() >= half }, start);
  if (own.status === "finished") {
    if (!own.x) return { status: "infeasible", engine: OWN_ENGINE, claimed: false };
    const x = chooseAmongEquals(program, own.x, own.cost, options.tieBreaks ?? [], late);
    return pointOf(program, x, own, OWN_ENGINE);
  }
  const left = (deadline - clock()) / 1000;
  if (left <= 0.02 || options.alone)
    return own.x ? pointOf(program, own.x, own, OWN_ENGINE) : { status: "nothing", bound: own.bound };
  const { solveWithHighs } = await import("./engine-highs.ts");
  const more = await solveWithHighs(program, Math.max(0.05, (deadline - clock()) / 1000), own.x);
  const settled = more.x ? settle(program, more.x) : null;
  const better = settled && !(own.x && own.cost <= costOf(program, settled)) ? settled : own.x;
  // What the larger solver says is searched again with its point at hand, which is far less work.
  const again =
    more.status === "optimal" || more.status === "infeasible"
      ? branchAndBound(program, { nodes, stop: late }, better)
      : own;
  if (again.status === "finished" && !again.x)
    return { status: "infeasible", engine: OWN_ENGINE, claimed: false };
  if (more.status === "infeasible" && !again.x) return { status: "infeasible", engine: HIGHS, claimed: true };
  const proven = Math.max(own.bound, again.bound);
  const bound = Math.max(proven, more.bound);
  const best = again.x ?? better;
  if (!best) return { status: "nothing", bound };
  const known = { bound, claimed: bound > proven, nodes: own.nodes + (again === own ? 0 : again.nodes) };
  const point = pointOf(program, best, known, HIGHS);
  if (point.status !== "optimal") return point;
  const x = chooseAmongEquals(program, best, point.cost, options.tieBreaks ?? [], late);
  return pointOf(program, x, known, HIGHS);
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
export function holdWhole<R extends Tag, C extends Tag>(
  program: Program<R, C>,
  x: readonly number[],
): { program: Program<R, C>; kept: readonly number[] } {
  const kept = program.columns.flatMap((column, j) => (column.integer ? [] : [j]));
  const place = new Map(kept.map((j, k) => [j, k]));
  const rows = program.rows.flatMap((row): Row<R>[] => {
    let held = 0;
    const index: number[] = [];
    const value: number[] = [];
    row.index.forEach((j, k) => {
      const at = place.get(j);
      if (at === undefined) held += row.value[k]! * Math.round(x[j]!);
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
