/** How each need is counted, said beside its number: what is available, what is spread, and why they differ. */

import { type Amounts, sumKg } from "../field/delivery.ts";
import type { Plan } from "../model.ts";
import type { Notice } from "../problem.ts";
import type { BedAnswer, BedNutrient } from "../results/solution.ts";
import { listed, money, percent, weight } from "./numbers.ts";
import { dayWords } from "./own-measures.ts";

/** From this ratio of what is spread to what becomes available the reader is told why; a judgement. */
const WORTH_SAYING = 1.2;

/** From this multiple of a rate that is counted as spread the reader is told why more is spread; a judgement. */
const FAR_ABOVE_RATE = 2;

/** A warning for every rate of which more than twice as much is spread: which materials bring it, and what they are in for. */
export function aboveRates(
  plan: Plan,
  amounts: Amounts,
  nutrients: readonly Omit<BedNutrient, "shadowPricePerKg">[],
): Notice[] {
  return nutrients.flatMap((n): Notice[] => {
    if (n.counts !== "applied" || !(n.minKg > 0) || n.countedKg <= FAR_ABOVE_RATE * n.minKg) return [];
    const brought = plan.amendments
      .map((amendment, a) => ({
        amendment,
        kg: sumKg(amounts[a]!) * (amendment.analysis[n.nutrient] ?? 0),
      }))
      .filter(({ kg }) => kg > 0.1 * n.countedKg)
      .sort((p, q) => q.kg - p.kg);
    const names = listed(brought.map(({ amendment }) => amendment.name));
    const other = (["N", "P2O5", "K2O", "Ca", "Mg", "S"] as const).filter(
      (nutrient) =>
        nutrient !== n.nutrient &&
        plan.demands.some((d) => d.nutrient === nutrient && d.minKg > 0) &&
        brought.some(({ amendment }) => (amendment.analysis[nutrient] ?? 0) > 0),
    );
    const credits =
      n.creditInAllKg > 0.1 * n.countedKg
        ? `, ${weight(n.creditInAllKg, plan.units)} of it from credits`
        : "";
    const needed =
      other.length > 0 ? `, the cheapest source here of the ${listed(other)} that is needed` : "";
    const why = names === "" ? "" : ` It comes with ${names}${needed}.`;
    const text = `${weight(n.countedKg, plan.units)} of ${n.nutrient} is spread where the rate is ${weight(n.minKg, plan.units)}${credits}.${why} \`applied_max\` in the target caps it.`;
    return [{ code: "above-rate", text }];
  });
}

/** A sentence for every need whose weight in the bags is not the weight asked for, and one for what the mix limes. */
export function countingNotes(bed: BedAnswer, plan: Plan): string[] {
  const needs = bed.nutrients.flatMap((n) => {
    if (!(n.minKg > 0) && n.maxKg === null) return [];
    const note = n.counts === "applied" ? appliedNote(plan, n) : availableNote(plan, n);
    return note === undefined ? [] : [`${note}${efficiencyNote(n)}${otherNote(bed, plan, n)}`];
  });
  return [...needs, ...limingNote(bed, plan)];
}

function limingNote({ limestoneKg = 0 }: BedAnswer, { units }: Plan): string[] {
  if (limestoneKg === 0) return [];
  const kg = weight(Math.abs(limestoneKg), units);
  const acts =
    limestoneKg > 0
      ? `acts like ${kg} of limestone`
      : `makes the soil more acid, as if ${kg} of limestone were taken from it`;
  return [`Lime and acid together: the mix ${acts}.`];
}

function appliedNote({ units, seasonDays, planted }: Plan, n: BedNutrient): string {
  const kg = (value: number): string => weight(value, units);
  const credits = n.creditInAllKg > 0 ? `, ${kg(n.creditInAllKg)} of it from credits` : "";
  const becomes =
    Math.abs(n.availableKg - n.countedKg) > 0.01 * n.countedKg
      ? `; ${kg(Math.max(0, n.availableKg))} of that becomes available by ${dayWords(seasonDays, planted)}`
      : "";
  const spreadKg = n.appliedKg + n.creditInAllKg;
  const counts =
    spreadKg > n.countedKg * 1.01
      ? `${kg(spreadKg)} in all${credits}, of which ${kg(n.countedKg)} can feed a crop on this soil`
      : `${kg(spreadKg)} in all${credits}`;
  return `${n.nutrient} is counted as it is spread: ${counts}${becomes}.`;
}

function availableNote({ units, seasonDays, planted }: Plan, n: BedNutrient): string | undefined {
  const kg = (value: number): string => weight(value, units);
  const released = n.availableKg - n.creditKg;
  const differs = n.appliedKg > WORTH_SAYING * released && n.appliedKg > 0;
  if (!differs) return n.efficiency < 1 ? `${n.nutrient} is counted as it becomes available.` : undefined;
  if (!(released > 0))
    return `${n.nutrient} is counted as it becomes available, and of the ${kg(n.appliedKg)} in the mix none does by ${dayWords(seasonDays, planted)}.`;
  return `${kg(released)} of available ${n.nutrient} takes ${kg(n.appliedKg)} of ${n.nutrient} in the mix, since ${percent(released / n.appliedKg)} of that becomes available by ${dayWords(seasonDays, planted)}.`;
}

function efficiencyNote({ efficiency }: BedNutrient): string {
  return efficiency < 1
    ? ` The need allows for a crop that takes up ${percent(efficiency)} of what is available.`
    : "";
}

/** What the other way of counting would cost, where that was worked out; both by weight. */
function otherNote({ countings }: BedAnswer, { currency }: Plan, { nutrient }: BedNutrient): string {
  const other = countings?.find((c) => c.nutrient === nutrient);
  if (!other) return "";
  const way = ` Counted ${other.counts === "applied" ? "as it is spread" : "as it becomes available"}`;
  if (other.total === null) return `${way}, no mix of these amendments would meet it.`;
  const more = other.total - other.asAsked;
  if (Math.abs(more) < 0.005) return `${way}, the mix would cost the same by weight.`;
  return `${way}, the mix would cost ${money(Math.abs(more), currency)} ${more > 0 ? "more" : "less"} by weight.`;
}
