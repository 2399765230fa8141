/**
 * Branch and bound over which columns are used, for programs in which only so many of a group may be.
 *
 * It branches on a column being left out or being kept, and its relaxation is the continuous program within what is left
 * of the columns. That is a far smaller program than one with a whole number for each column, and no weaker: a bound on a
 * column times its whole number says little until the number is fixed. Every leaf is closed by a certificate recomputed
 * from the program's rows, or by the proven search that settles what a choice of columns comes to.
 */
import { cutoffBelow, Relaxed, type SearchLimits, type SearchResult } from "./branch.ts";
import type { Program } from "./program.ts";

/** Columns of which only so many may be above zero. */
export interface Group {
  readonly columns: readonly number[];
  readonly most: number;
}

export interface FewOptions extends SearchLimits {
  readonly groups: readonly Group[];
  /** By column: the least amount of it, where it is used at all. */
  readonly least: readonly number[];
  /** Nothing dearer is looked for. */
  readonly dearest: number;
  /** Proves the best point that uses none but the columns given, among points no dearer than `dearest`. */
  readonly settle: (allowed: (column: number) => boolean) => SearchResult;
}

/** A column is left out or kept, after the choices before. */
interface Choices {
  readonly before: Choices | null;
  readonly column: number;
  readonly kept: boolean;
}
interface Node {
  readonly choices: Choices | null;
  readonly bound: number;
}

/** Amounts below this share of the largest are none. */
const NOTHING = 1e-9;

/**
 * Minimises a program in which few columns of each group may be used.
 * @returns the best point as `settle` gives it, and the proven bound; no point at all: none is as cheap as `dearest`.
 */
export function chooseFew(program: Program, options: FewOptions): SearchResult {
  return new Search(program, options).run();
}

class Search {
  private readonly relaxed: Relaxed;
  private readonly upper: readonly number[];
  private best: readonly number[] | null = null;
  private bestCost = Infinity;
  private cutoff: number;
  private nodes = 0;
  /** Least bound over leaves that could not be certified beyond it. */
  private unsettled = Infinity;
  private readonly open: Node[] = [];
  private readonly settled = new Map<string, SearchResult>();

  constructor(
    private readonly program: Program,
    private readonly options: FewOptions,
  ) {
    this.relaxed = new Relaxed(program);
    this.upper = program.columns.map((column) => column.upper);
    this.cutoff = options.dearest;
  }

  run(): SearchResult {
    const { nodes, stop } = this.options;
    this.open.push({ choices: null, bound: -Infinity });
    for (let node = this.open.pop(); node; node = this.open.pop()) {
      if (node.bound > this.cutoff) continue;
      if (this.nodes >= nodes || stop?.()) {
        this.open.push(node);
        break;
      }
      this.nodes++;
      this.visit(node);
    }
    const closed = this.best ? Math.min(this.cutoff, this.bestCost) : this.cutoff;
    const bound = this.open.reduce(
      (least, node) => Math.min(least, node.bound),
      Math.min(closed, this.unsettled),
    );
    const status = bound < closed ? "stopped" : "finished";
    return { status, x: this.best, cost: this.bestCost, bound, nodes: this.nodes };
  }

  private accept(x: readonly number[] | null, cost: number): void {
    if (!x || !(cost < this.bestCost)) return;
    this.best = x;
    this.bestCost = cost;
    this.cutoff = Math.min(this.cutoff, cutoffBelow(this.program, x, cost, 0));
  }

  private visit({ choices, bound: above }: Node): void {
    const { groups } = this.options;
    const kept = new Set<number>();
    const out = new Set<number>();
    for (let choice = choices; choice; choice = choice.before) (choice.kept ? kept : out).add(choice.column);
    // Where as many are kept as may be, nothing else of the group is left.
    for (const { columns, most } of groups)
      if (columns.filter((j) => kept.has(j)).length >= most)
        for (const j of columns) if (!kept.has(j)) out.add(j);
    const bound = this.relax(kept, out, above);
    if (bound === null) return;
    const amounts = groups.map(({ columns }) => columns.map((j) => this.relaxed.value(j)));
    const nothing = NOTHING * Math.max(0, ...amounts.flat());
    const used = groups.map(({ columns }, g) => columns.filter((_, k) => amounts[g]![k]! > nothing));
    const crowded = groups.findIndex(({ most }, g) => used[g]!.length > most);
    if (crowded < 0) {
      const all = new Set(used.flat());
      const answer = this.settle(all);
      // As cheap as anything within these columns can be.
      if (answer.x && cutoffBelow(this.program, answer.x, answer.cost, 0) <= bound) return;
      const left = groups.map(({ columns }) => columns.filter((j) => !out.has(j)));
      if (groups.every(({ most }, g) => left[g]!.length <= most)) {
        const last = this.settle(new Set(left.flat()));
        if (last.status !== "finished") this.unsettled = Math.min(this.unsettled, last.bound);
        return;
      }
    }
    const column = this.nextColumn(crowded, used, kept, out);
    // Goes on with the column kept; without it comes later.
    for (const keep of [false, true])
      this.open.push({ choices: { before: choices, column, kept: keep }, bound });
  }

  /** The bound of what is left, or null where that closes the node. */
  private relax(kept: ReadonlySet<number>, out: ReadonlySet<number>, above: number): number | null {
    const { relaxed } = this;
    for (const { columns } of this.options.groups)
      for (const j of columns) {
        const high = out.has(j) ? 0 : this.upper[j]!;
        const low = kept.has(j) ? this.options.least[j]! : 0;
        if (low > high) return null;
        if (relaxed.lower[j] !== low || relaxed.upper[j] !== high) relaxed.setBounds(j, low, high);
      }
    const bound = relaxed.solve(this.cutoff);
    if (bound === null) this.unsettled = Math.min(this.unsettled, above);
    return bound === null || bound === Infinity ? null : Math.max(bound, above);
  }

  /** What a choice of columns comes to; each is settled once. */
  private settle(allowed: ReadonlySet<number>): SearchResult {
    const key = [...allowed].sort((a, b) => a - b).join();
    let answer = this.settled.get(key);
    if (!answer) {
      answer = this.options.settle((j) => allowed.has(j));
      this.settled.set(key, answer);
      this.nodes += answer.nodes;
      this.accept(answer.x, answer.cost);
    }
    return answer;
  }

  /** The largest amount that is not kept yet, in the group that has too many, or else in the first that has any. */
  private nextColumn(
    crowded: number,
    used: readonly (readonly number[])[],
    kept: ReadonlySet<number>,
    out: ReadonlySet<number>,
  ): number {
    const largest = (columns: readonly number[]): number | undefined =>
      columns
        .filter((j) => !kept.has(j) && !out.has(j))
        .sort((i, j) => this.relaxed.value(j) - this.relaxed.value(i) || i - j)[0];
    const lists =
      crowded < 0 ? [...used, ...this.options.groups.map(({ columns }) => columns)] : [used[crowded]!];
    for (const columns of lists) {
      const column = largest(columns);
      if (column !== undefined) return column;
    }
    throw new Error("a choice of columns with nothing left to choose was not closed");
  }
}
