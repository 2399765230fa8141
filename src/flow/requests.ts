/** What a caller may ask of a flow: the same checks that the command line makes, for everyone who calls the library. */

import type { Plan } from "../model.ts";
import { NUTRIENTS, type Nutrient } from "../nutrients.ts";
import { InputError, nearest, type Problem } from "../problem.ts";
import type { Rain } from "../results/topup.ts";

/** More points than this are no table any more. */
export const MOST_STEPS = 100_000;
/** No soil drains outside of these. */
export const SOIL_WATER = { least: 0.05, most: 0.6 } as const;

/** @throws InputError where there is any problem. */
export function refuse(problems: readonly Problem[]): void {
  if (problems.length > 0) throw new InputError(problems);
}

/** A number that has to be in a range, in words for whoever passed it. */
function outside(name: string, value: number, least: number, most: number): Problem[] {
  if (value >= least && value <= most) return [];
  const range = most === Infinity ? `${least} or more` : `${least} to ${most}`;
  return [
    {
      code: "number-range",
      message: `${name} is ${String(value)}`,
      hint: `it takes a number, ${range}`,
    },
  ];
}

/** An id that a plan may not have. */
export function idProblems(plan: Plan, id: string): Problem[] {
  const ids = plan.amendments.map((amendment) => amendment.id);
  if (ids.includes(id)) return [];
  const near = nearest(id, ids);
  return [
    {
      code: "amendment-unknown",
      message: `the plan has no amendment \`${id}\``,
      hint: near === undefined ? `it has ${ids.join(", ")}` : `did you mean \`${near}\`?`,
    },
  ];
}

/** What a sweep is asked for, as far as it can be wrong. */
interface SweepAsked {
  readonly handle: { readonly kind: string; readonly id?: string; readonly nutrient?: Nutrient };
  readonly from: number;
  readonly to: number;
  readonly steps: number;
}

export function sweepProblems(plan: Plan, { handle, from, to, steps }: SweepAsked): Problem[] {
  const problems = [
    ...(handle.id === undefined ? [] : idProblems(plan, handle.id)),
    ...outside("`from`", from, 0, Number.MAX_VALUE),
    ...outside("`to`", to, 0, Number.MAX_VALUE),
    ...outside("`steps`", steps, 1, MOST_STEPS),
  ];
  if (handle.nutrient !== undefined && !NUTRIENTS.includes(handle.nutrient))
    problems.push({
      code: "nutrient-unknown",
      message: `\`${String(handle.nutrient)}\` is no nutrient`,
      hint: `nutrients are ${NUTRIENTS.join(", ")}`,
    });
  if (problems.length > 0) return problems;
  if (!Number.isInteger(steps))
    problems.push({
      code: "number-range",
      message: `\`steps\` is ${steps}`,
      hint: "it takes a whole number",
    });
  if (!(from < to))
    problems.push({
      code: "range-crossed",
      message: `\`from\` (${from}) is not below \`to\` (${to})`,
      hint: "a sweep goes upwards",
    });
  return problems;
}

export function rainProblems(plan: Plan, rain: Rain): Problem[] {
  const problems = [
    ...outside("`rainM`", rain.rainM, 0, 10),
    ...outside("`evaporationM`", rain.evaporationM, 0, 10),
    ...outside("`soilWater`", rain.soilWater, SOIL_WATER.least, SOIL_WATER.most),
    ...outside("`depthM`", rain.depthM, Number.MIN_VALUE, 100),
    ...outside("`mixedToM`", rain.mixedToM, 0, Math.max(0, rain.depthM)),
  ];
  const first = plan.applications[0]!.day;
  if (!(rain.day > first && rain.day < plan.seasonDays))
    problems.push({
      code: "day-outside",
      message: `\`day\` is ${rain.day}`,
      hint: `the plan runs from day ${first} to day ${plan.seasonDays}; name a day between`,
    });
  return problems;
}

/** @param least the smallest share an application may have. */
export function splitProblems(plan: Plan, least: number): Problem[] {
  return outside("`least`", least, 0, 1 / plan.applications.length);
}

/** What a purchase may be asked to keep to. */
interface PurchaseAsked {
  readonly budget?: number;
  readonly mostLeft?: { readonly kg: number } | { readonly share: number };
  readonly seconds?: number;
}

export function purchaseProblems({ budget, mostLeft, seconds }: PurchaseAsked): Problem[] {
  return [
    ...(budget === undefined ? [] : outside("`budget`", budget, 0, Number.MAX_VALUE)),
    ...(mostLeft && "kg" in mostLeft ? outside("`mostLeft.kg`", mostLeft.kg, 0, Number.MAX_VALUE) : []),
    ...(mostLeft && "share" in mostLeft ? outside("`mostLeft.share`", mostLeft.share, 0, 1) : []),
    ...(seconds === undefined ? [] : outside("`seconds`", seconds, Number.MIN_VALUE, Infinity)),
  ];
}
