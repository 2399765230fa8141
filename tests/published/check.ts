/** One published figure, the command line that should arrive at it, and how the answer is read. */
import { main } from "../../src/cli.ts";
import type { Solution } from "../../src/results/solution.ts";
import { unfolded } from "../helpers/answers.ts";
import { testWorld } from "../helpers/world.ts";

/** Parsed JSON of a command; the tests read what they need of it. */
// biome-ignore lint/suspicious/noExplicitAny: the output is read as a script would read it
export type Json = any;

export interface Check {
  /** What is worked out, in a few words. */
  readonly what: string;
  readonly source: string;
  /**
   * `seen`: the figure stood in a text that was read. `computed`: worked out by the rule or from the figures of such a text.
   * `secondary`: quoted by another. `memory`: not seen, or a part of it was not; held loosely.
   */
  readonly standing: "seen" | "computed" | "secondary" | "memory";
  /** Arguments; `-` reads `stdin`. `--json` is added. */
  readonly args: readonly string[];
  readonly stdin?: object;
  readonly got: (json: Json) => number;
  /** A figure that no command prints by itself: the function that works it out, in place of the command. */
  readonly of?: () => number;
  readonly unit: string;
  /** The figure as published, or its lowest and highest. */
  readonly expected: number | readonly [number, number];
  /** Half a unit of the last digit that is printed, or a wider band with its reason in `why`. */
  readonly within: number;
  readonly why?: string;
}

/** Runs the command and reads the figure; of an answer by weight, with its one bed unfolded. */
export async function run({ args, stdin, got, of }: Check): Promise<number> {
  if (of) return of();
  const world = testWorld(stdin === undefined ? {} : { stdin: JSON.stringify(stdin) });
  const code = await main([...args, "--json"], world);
  if (code !== 0 && code !== 3) throw new Error(`exit ${code}: ${world.written.stderr}`);
  const json = JSON.parse(world.written.stdout) as { readonly schema: string };
  return got(json.schema === "barrowmix.solution/2" ? unfolded(json as Solution) : json);
}

/** Exact by definition: NIST SP 811, Appendix B. */
export const LB = 0.45359237;
export const OZ = LB / 16;
export const ACRE_M2 = 4046.8564224;
export const SQ_FT_M2 = 0.09290304;

/** A bag of a label, all of it available at once; the price is invented. */
export const bag = (analysis: Readonly<Record<string, number>>, pricePerLb = 1): object => ({
  name: "Bag",
  analysis,
  bulk: { price: pricePerLb, per: "lb" },
  release: "at-once",
});

/** A plan of a bare need on a bed. */
export function plan(
  amendments: Readonly<Record<string, object>>,
  need: Readonly<Record<string, unknown>>,
  more: Readonly<Record<string, unknown>> = {},
): object {
  return {
    plan: "Published example",
    amendments,
    target: { target: "Example", season: "60 days", need },
    bed: { plants: 100, area: "1000 sq ft" },
    ...more,
  };
}

/** Pounds of one amendment in the answer of `solve`. */
export const pounds =
  (id: string) =>
  (json: Json): number =>
    (json.amendments.find((a: Json) => a.id === id)?.kg ?? 0) / LB;

/** A field of one nutrient in the answer of `solve`, divided by a unit. */
export const nutrient =
  (name: string, field: string, unit = LB) =>
  (json: Json): number =>
    json.nutrients.find((n: Json) => n.nutrient === name)[field] / unit;
