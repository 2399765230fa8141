/** What to scoop for each plant, foot of row or stretch of ground, so that a batch lasts. */
import type { SolutionApplication } from "../results/solution.ts";
import { CLOSE, doseMeasure, type Measure } from "../words/measures.ts";
import { howMany, type UnitSystem } from "../words/numbers.ts";

/** The loose volume of one batch as it is weighed out, mL; null where a density is missing. */
function batchMilliliters({ batches }: SolutionApplication): number | null {
  const parts = batches.weights.map((weight) => weight.mL);
  return parts.some((mL) => mL === null) ? null : parts.reduce((sum: number, mL) => sum + (mL ?? 0), 0);
}

/**
 * The measure that gives each of `perBatch` receivers its share.
 * @param mL what each would get exactly.
 * @param perBatch how many receivers a batch must last for; null where that is not known.
 */
export function dose(
  application: SolutionApplication,
  mL: number,
  perBatch: number | null,
  units: UnitSystem,
): Measure {
  const batch = batchMilliliters(application);
  // What the scale rounded off a batch is not there to be scooped.
  const share = batch === null || perBatch === null ? mL : Math.min(mL, batch / perBatch);
  return doseMeasure(share, units);
}

/** Where no measure is close enough to what each plant should get: how far a batch goes by the one that is printed. */
export function dosesThatGoFurther(
  applications: readonly SolutionApplication[],
  units: UnitSystem,
): { readonly application: SolutionApplication; readonly measure: string; readonly plants: string }[] {
  return applications.flatMap((application) => {
    const { mL } = application.perPlant;
    const { plantsPerBatch } = application.coverage;
    if (mL === null || plantsPerBatch === null || mL <= 0) return [];
    const measure = dose(application, mL, plantsPerBatch, units);
    if (measure.mL >= mL * (1 - CLOSE)) return [];
    return [{ application, measure: measure.text, plants: howMany((plantsPerBatch * mL) / measure.mL) }];
  });
}
