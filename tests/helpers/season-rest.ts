/** The rest of a random season by the project, beside the same by a model written apart. */
import type { Amounts } from "../../src/field/delivery.ts";
import { SeasonWork } from "../../src/field/sureness.ts";
import { loadSeason } from "../../src/files/load.ts";
import { seasonRest } from "../../src/flow/season-rest.ts";
import { amountsOf, solveBlend } from "../../src/flow/solve-blend.ts";
import { formatProblems } from "../../src/problem.ts";
import { memoryReader } from "./files.ts";
import { Apart, type ApartSeason, apartChance, apartCost, apartFiles, apartSeason } from "./season-apart.ts";

/** A season of files that exist only in the test. */
export function loadApart(season: ApartSeason) {
  const files = apartFiles(season);
  const io = memoryReader({ "/s/plan.yaml": files.plan, "/s/season.yaml": files.season });
  const loaded = loadSeason(io, "season.yaml", { cwd: "/s", recipesDir: "/recipes" });
  if (!loaded.ok) throw new Error(formatProblems(loaded.problems));
  return loaded.value.season;
}

/** The rest of it on the day it asks about. */
export function restOfApart(season: ApartSeason) {
  const file = loadApart(season);
  return seasonRest(file, season.on).beds[0]!;
}

export interface Beside {
  readonly seed: number;
  /** Null: none found. */
  readonly cost: number | null;
  readonly apartCost: number | null;
  /** How often nitrogen is met at the end by the project's rest: worked seasons, and drawn ones. */
  readonly met: number | null;
  readonly drawn: number | null;
  /** The same of nine tenths of it; null without draws. */
  readonly lean: { readonly met: number; readonly drawn: number } | null;
  readonly readings: number;
  readonly losses: number;
  /** What was asked cannot be reached, and the surest rest was found instead: its chance alone is compared. */
  readonly surest: boolean;
}

/** One season by both. */
export async function besideApart(seed: number, draws: number): Promise<Beside> {
  const season = apartSeason(seed);
  const { plan, standing } = restOfApart(season);
  const apart = new Apart(season);
  const solved = await solveBlend(plan!);
  const counts = { seed, readings: standing.past.readings.length, losses: standing.past.losses.length };
  if (solved.answer.status !== "optimal") {
    const other = await apartCost(apart, season.p);
    return {
      ...counts,
      cost: null,
      apartCost: other?.cost ?? null,
      met: null,
      drawn: null,
      lean: null,
      surest: false,
    };
  }
  // Where worked seasons find less than asked, the project asks for more: the level it came to is what is compared.
  const level = solved.sure?.levels.get("N") ?? 0.5;
  const amounts = amountsOf(plan!, solved.program, solved.answer.x);
  const work = new SeasonWork(plan!).work(
    amounts,
    ({ nutrient, day }) => nutrient === "N" && day === season.seasonDays,
  );
  const met = work.needs[0]!.met;
  // Nothing is surer than what was found: then the level is not the one that the answer is for. A mix of which no sureness
  // is asked may meet its needs a little less often than every second season.
  const surest = season.p > 0.5 && met < season.p - 0.0025;
  const other = surest ? { cost: solved.answer.check.cost } : await apartCost(apart, level);
  const inOrder = (of: Amounts) =>
    season.materials.map(({ id }) => of[plan!.amendments.findIndex((one) => one.id === id)]!.slice());
  const drawnOf = (of: Amounts) => apartChance(apart, inOrder(of), draws, 7 + seed);
  const less = amounts.map((row) => row.map((kg) => 0.9 * kg));
  const { sure: _, ...unasked } = plan!;
  const lean = () =>
    new SeasonWork(unasked).work(less, ({ nutrient, day }) => nutrient === "N" && day === season.seasonDays)
      .needs[0]!;
  return {
    ...counts,
    cost: solved.answer.check.cost,
    apartCost: other?.cost ?? null,
    met,
    surest,
    drawn: draws === 0 ? null : drawnOf(amounts),
    lean: draws === 0 ? null : { met: lean().met, drawn: drawnOf(less) },
  };
}
