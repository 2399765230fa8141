/** The model of a season, in SI: what was decided, in weights, and what has happened since. Read-only data. */
import type { Amendment, Farm, Placement, Plan } from "../model.ts";
import type { Notice } from "../problem.ts";

/** kg by id; of what is given, by the names of mixes and the ids of materials given alone. */
export type Kilograms = Readonly<Record<string, number>>;

/** A mix as it was decided: its heap, and in how many batches that is made. */
export interface SeasonMix {
  readonly name: string;
  readonly kg: Kilograms;
  readonly heapKg: number;
  readonly batches: number;
}

/** A round as it was decided, for one bed. */
export interface PlannedRound {
  readonly bed: string;
  readonly round: string;
  readonly day: number;
  readonly placement?: Placement;
  readonly gives: Kilograms;
}

/** What every line of the log has. */
export interface LineBase {
  /** Which item of the log it is, from 1, in the file's order. */
  readonly number: number;
  /** Line in the file. */
  readonly line: number;
  readonly day: number;
  readonly note?: string;
  readonly who?: string;
  /** It is right, however odd it looks. */
  readonly checked?: true;
  /** What the file says of it: `day: 2027-09-10, rain: 2.5 in`. */
  readonly text: string;
}

/** A line as people find it: as `void` counts lines, and in the file. */
export function lineName({ number, line }: Pick<LineBase, "number" | "line">): string {
  return `line ${number} of the log (line ${line} of the file)`;
}

/** `Line 3 of the log (line 24 of the file)`; `Lines 3, 5 of the log`. */
export function linesName(lines: readonly Pick<LineBase, "number" | "line">[]): string {
  const [first, other] = lines;
  if (other === undefined) return lineName(first!).replace("line", "Line");
  return `Lines ${lines.map(({ number }) => number).join(", ")} of the log`;
}

export interface BoughtLine extends LineBase {
  readonly kind: "bought";
  readonly id: string;
  readonly kg: number;
  readonly packs?: { readonly count: number; readonly sizeKg: number };
  readonly supplier?: string;
  /** For the whole line. */
  readonly paid?: number;
  readonly lot?: string;
}

export interface SpreadLine extends LineBase {
  readonly kind: "spread";
  /** The planned round that it is, or part of it; or in whose place it was given. */
  readonly round?: string;
  /** It gives amounts of its own, and not those that were planned. */
  readonly own?: true;
  /** What each bed got; one entry for each bed. */
  readonly beds: readonly {
    readonly bed: string;
    readonly gives: Kilograms;
    readonly placement?: Placement;
  }[];
  readonly lots: Readonly<Record<string, string>>;
}

export interface WaterLine extends LineBase {
  readonly kind: "rain" | "water";
  readonly beds: readonly string[];
  readonly fallenM: number;
  /** Absent: not said. */
  readonly evaporationM?: number;
}

export interface NitrateLine extends LineBase {
  readonly kind: "nitrate";
  readonly beds: readonly string[];
  /** As NO3-N, in dry soil. */
  readonly ppm: number;
  readonly depthM: number;
  readonly accuracy?: number;
  /** Share of the roots' nitrogen that lies in the depth tested, where the line says so. */
  readonly holds?: number;
}

/** What was weighed of materials in the shed; mixes that are mixed and not spread. */
export interface WeighedLine extends LineBase {
  readonly kind: "left" | "kept";
  readonly kg: Kilograms;
}

/** What is written down and moves nothing. */
export interface NotedLine extends LineBase {
  readonly kind: "tissue";
}

export type LogLine = BoughtLine | SpreadLine | WaterLine | NitrateLine | WeighedLine | NotedLine;

/** A line that another took back. */
export interface VoidedLine extends LineBase {
  readonly because?: string;
}

/** What is still to be bought, as the answer of the season's beginning said. */
export interface ToBuy {
  readonly id: string;
  /** The packs as the file writes them: `1 x 50 lb`. */
  readonly text: string;
  readonly count: number;
  readonly sizeKg: number;
  readonly supplier?: string;
  /** Of the whole line. */
  readonly price?: number;
}

/** A season, complete and checked. */
export interface SeasonFile {
  /** As shown to people. */
  readonly file: string;
  /** The plan, or the beds of a farm; each `planted` on the season's day. */
  readonly beds: readonly Plan[];
  /** The farm's limits on what all beds together get in the season. */
  readonly heap: Farm["heap"];
  readonly planted: string;
  readonly units: Plan["units"];
  readonly currency: string;
  readonly people: Readonly<Record<string, { readonly name?: string; readonly address?: string }>>;
  readonly mixes: readonly SeasonMix[];
  readonly planned: readonly PlannedRound[];
  readonly shed: Kilograms;
  readonly toBuy: readonly ToBuy[];
  /** By day, those of one day in the file's order; what is void is left out. */
  readonly log: readonly LogLine[];
  /** Lines that were taken back, each with why, in the file's order. */
  readonly voided: readonly VoidedLine[];
  /** Every material of the plan's files, also what the plan leaves out; sorted by id. */
  readonly materials: readonly Amendment[];
  readonly warnings: readonly Notice[];
}

/** What weights come to. */
export function sumOf(kg: Kilograms): number {
  return Object.values(kg).reduce((sum, one) => sum + one, 0);
}

/** kg of each material in what is given. */
export function materialsOf(gives: Kilograms, mixes: readonly SeasonMix[]): Record<string, number> {
  const kg = new Map<string, number>();
  for (const [name, given] of Object.entries(gives)) {
    const mix = mixes.find((one) => one.name === name);
    const parts = mix ? Object.entries(mix.kg) : [[name, 1] as const];
    for (const [id, part] of parts) kg.set(id, (kg.get(id) ?? 0) + (given * part) / (mix?.heapKg || 1));
  }
  return Object.fromEntries(kg);
}
