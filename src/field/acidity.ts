/** What amendments do to the acidity of the soil, as calcium carbonate. */
import type { Amendment, Plan } from "../model.ts";
import type { Amounts } from "./delivery.ts";

/** Limestone that a kg of elemental sulfur takes up: CaCO3 100.09 over S 32.06, one molecule for one atom. */
const LIMESTONE_PER_SULFUR = 100.09 / 32.06;
/** From this much sulfur and nothing else a material is elemental sulfur; the sulfates that ship hold at most 24 %. */
const ELEMENTAL = 0.5;

/** Calcium carbonate equivalent of a material, fraction: its own, or by its sulfur where that is elemental. */
export function limingOf({ cce, analysis }: Amendment): number {
  if (cce !== undefined) return cce;
  const sulfur = analysis.S ?? 0;
  return sulfur >= ELEMENTAL ? -sulfur * LIMESTONE_PER_SULFUR : 0;
}

/** kg of calcium carbonate that the amounts are worth; below zero they make the soil more acid. */
export function limingKg(plan: Plan, amounts: Amounts): number {
  return plan.amendments.reduce(
    (sum, amendment, a) => sum + amounts[a]!.reduce((kg, one) => kg + one, 0) * limingOf(amendment),
    0,
  );
}
