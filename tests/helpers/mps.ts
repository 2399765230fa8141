/**
 * A reader of linear programs in MPS format, fixed or free, without names that hold spaces: what the netlib collection
 * needs (rows N, L, G, E; RANGES; bounds UP, LO, FX, FR, MI, PL, BV, LI, UI; whole columns by MARKER lines).
 * The format is that of the netlib index and of the HiGHS and lp_solve manuals: a negative RANGES entry on an E row
 * reaches downwards, and a negative UP bound without a LO bound is not met here and refused.
 */
import { readFileSync } from "node:fs";
import { type Program, type Row, rowOf, termsOf } from "../../src/solver/program.ts";

const label = (text: string) => ({ kind: "other", label: text }) as const;

/** A program with columns from zero up, and the cost that was taken out on the way to it. */
export interface ReadProgram {
  readonly program: Program;
  /** What is to be added to the program's cost. */
  readonly constant: number;
}

interface RawColumn {
  cost: number;
  readonly entries: Map<string, number>;
  lower: number;
  upper: number;
  readonly integer: boolean;
}

/** Reads a file beside the tests. */
export function readMpsFile(name: string): ReadProgram {
  return readMps(readFileSync(new URL(`../fixtures/netlib/${name}.mps`, import.meta.url), "utf8"));
}

export function readMps(text: string): ReadProgram {
  const kinds = new Map<string, string>();
  const columns = new Map<string, RawColumn>();
  const right = new Map<string, number>();
  const ranges = new Map<string, number>();
  let objective = "";
  let section = "";
  let whole = false;
  for (const line of text.split(/\r?\n/)) {
    if (line.trim() === "" || line.startsWith("*")) continue;
    const words = line.trim().split(/\s+/);
    if (!/^\s/.test(line)) {
      section = words[0]!;
      continue;
    }
    if (section === "ROWS") {
      const [kind, name] = words as [string, string];
      if (kind === "N") objective ||= name;
      else kinds.set(name, kind);
    } else if (section === "COLUMNS") {
      if (words[1] === "'MARKER'") {
        whole = words[2] === "'INTORG'";
        continue;
      }
      const name = words[0]!;
      const column = columns.get(name) ?? {
        cost: 0,
        entries: new Map(),
        lower: 0,
        upper: Infinity,
        integer: whole,
      };
      columns.set(name, column);
      for (const [row, value] of pairs(words.slice(1)))
        if (row === objective) column.cost += value;
        else if (kinds.has(row)) column.entries.set(row, (column.entries.get(row) ?? 0) + value);
    } else if (section === "RHS" || section === "RANGES")
      for (const [row, value] of pairs(words.length % 2 === 1 ? words.slice(1) : words))
        (section === "RHS" ? right : ranges).set(row, value);
    else if (section === "BOUNDS") setBound(columns, words);
    else throw new Error(`a section this reader does not know: ${section}`);
  }
  return assemble(kinds, columns, right, ranges, objective);
}

function pairs(words: readonly string[]): [string, number][] {
  const found: [string, number][] = [];
  for (let k = 0; k + 1 < words.length; k += 2) found.push([words[k]!, numberOf(words[k + 1]!)]);
  return found;
}

function numberOf(text: string): number {
  const value = Number(text.replace(/d/i, "e"));
  if (!Number.isFinite(value)) throw new Error(`not a number: ${text}`);
  return value;
}

function setBound(columns: Map<string, RawColumn>, words: readonly string[]): void {
  const kind = words[0]!;
  const plain = ["FR", "MI", "PL", "BV"].includes(kind);
  // The name of the set of bounds may be left out.
  const rest = words.slice(words.length === (plain ? 2 : 3) ? 1 : 2);
  const column = columns.get(rest[0]!);
  if (!column) throw new Error(`a bound on a column that is not there: ${rest[0]}`);
  const value = plain ? 0 : numberOf(rest[1]!);
  if (kind === "UP" || kind === "UI") {
    if (value < 0 && column.lower === 0) throw new Error("an upper bound below zero without a lower one");
    column.upper = value;
  } else if (kind === "LO" || kind === "LI") column.lower = value;
  else if (kind === "FX") column.lower = column.upper = value;
  else if (kind === "FR") column.lower = -Infinity;
  else if (kind === "MI") column.lower = -Infinity;
  else if (kind === "BV") column.upper = 1;
  else if (kind !== "PL") throw new Error(`a kind of bound this reader does not know: ${kind}`);
}

/** Columns are moved so that they begin at zero; those without a lower bound are the difference of two. */
function assemble(
  kinds: ReadonlyMap<string, string>,
  raw: ReadonlyMap<string, RawColumn>,
  right: ReadonlyMap<string, number>,
  ranges: ReadonlyMap<string, number>,
  objective: string,
): ReadProgram {
  const columns: Program["columns"][number][] = [];
  const entries = new Map<string, [number, number][]>([...kinds.keys()].map((row) => [row, []]));
  const moved = new Map<string, number>();
  // A right side of the objective is what is taken off it.
  let constant = -(right.get(objective) ?? 0);
  for (const [name, column] of raw) {
    const free = column.lower === -Infinity;
    const shift = free ? 0 : column.lower;
    constant += column.cost * shift;
    const add = (sign: 1 | -1, upper: number): void => {
      columns.push({
        tag: label(name),
        cost: sign * column.cost,
        upper,
        ...(column.integer ? { integer: true } : {}),
      });
      for (const [row, value] of column.entries) entries.get(row)!.push([columns.length - 1, sign * value]);
    };
    add(1, free ? Infinity : column.upper - shift);
    if (free) add(-1, Infinity);
    if (free && column.upper < Infinity) throw new Error("a column from minus infinity to a bound");
    for (const [row, value] of column.entries)
      if (shift !== 0) moved.set(row, (moved.get(row) ?? 0) + value * shift);
  }
  const rows = [...kinds].map(([name, kind]): Row => {
    const side = right.get(name) ?? 0;
    const range = ranges.get(name);
    let lower = kind === "L" ? -Infinity : side;
    let upper = kind === "G" ? Infinity : side;
    if (range !== undefined) {
      if (kind === "L" || (kind === "E" && range < 0)) lower = side - Math.abs(range);
      if (kind === "G" || (kind === "E" && range > 0)) upper = side + Math.abs(range);
    }
    const by = moved.get(name) ?? 0;
    return rowOf(label(name), termsOf(entries.get(name)!), { lower: lower - by, upper: upper - by });
  });
  return { program: { columns, rows }, constant };
}
