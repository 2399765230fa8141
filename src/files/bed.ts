/** Amounts per plant, per area or per bed, counted for one bed. */
import type { Bed, NutrientMap } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { fromSi, type Per } from "../units.ts";
import type { Cursor } from "./context.ts";
import type { Amounts } from "./schema/amounts.ts";
import type { MassOrRate } from "./schema/values.ts";

/** A bed, or all of those alike, as far as it is known, and where its absence is to be reported. */
export interface BedAt {
  readonly measures: Bed;
  /** How many beds alike these are the measures of, together. */
  readonly alike: number;
  readonly at: Cursor;
  /** Those of the plan, for what is said of amounts. */
  readonly units: "us" | "metric";
  /** Missing measures already reported. */
  readonly reported: Set<"plants" | "area">;
  /** The bed itself was wrong and has been reported, so nothing is said of what it lacks. */
  readonly broken: boolean;
}

/** How often the amount is counted in the whole bed, or undefined where the bed does not say (reported once). */
function timesPer(bed: BedAt, per: Per): number | undefined {
  if (per.kind === "bed") return bed.alike;
  if (per.kind === "plant")
    return bed.measures.plants ?? lacking(bed, "plants", "how many plants it holds", "`plants: 240`");
  const area = bedArea(bed);
  return area === undefined ? undefined : area / per.areaM2;
}

/** The area of the bed in m2, or undefined where it does not say (reported once). */
export function bedArea(bed: BedAt): number | undefined {
  return bed.measures.areaM2 ?? lacking(bed, "area", "its area", "`area: 1500 sq ft`");
}

function lacking(bed: BedAt, key: "plants" | "area", what: string, example: string): undefined {
  if (bed.broken || bed.reported.has(key)) return;
  bed.reported.add(key);
  const per = key === "plants" ? "plant" : "area";
  const wrong = `amounts are given per ${per}, and the bed does not say ${what}`;
  return bed.at.refuseKey("bed-missing", wrong, `add ${example} under \`bed\``);
}

/** An amount in kg for the whole bed, or undefined where the bed does not say enough. */
export function bedKg(bed: BedAt, amount: MassOrRate, factor: number, per?: Per): number | undefined {
  const counted: Per | undefined = amount.kind === "rate" ? { kind: "area", areaM2: 1 } : per;
  const times = counted && timesPer(bed, counted);
  return times === undefined ? undefined : amount.value * factor * times;
}

/** Amounts in kg for the whole bed; those that cannot be counted are left out, and the reason has been reported. */
export function bedAmounts(bed: BedAt, amounts: Amounts<MassOrRate> | undefined): NutrientMap {
  const kg: Partial<Record<Nutrient, number>> = {};
  for (const e of amounts?.nutrients ?? []) {
    const value = bedKg(bed, e.value, e.factor, amounts?.per);
    if (value !== undefined) kg[e.nutrient] = value;
  }
  return kg;
}

/** An amount for the bed as a rate that people know, in the plan's units. */
export function rateText({ measures: { areaM2 }, units }: BedAt, kg: number): string {
  const in3 = (value: number, unit: string, words = unit): string =>
    `${Number(fromSi(value, unit).toPrecision(3))} ${words}`;
  if (areaM2 === undefined) return `${in3(kg, units === "us" ? "lb" : "kg")} for the bed`;
  return units === "us" ? in3(kg / areaM2, "lb/1000 sq ft", "lb per 1000 sq ft") : in3(kg / areaM2, "kg/ha");
}

type Kinded = { readonly kind: string };

/** Reports weights that do not say what they are counted per, at the map that holds them; rates carry their own. */
export function checkPer(at: Cursor, per: Per | undefined, amounts: Iterable<Kinded | undefined>): void {
  if (per === undefined && [...amounts].some((amount) => amount?.kind === "mass"))
    at.complainOfKey({
      code: "key-missing",
      wrong: "these weights do not say what they are counted per",
      hint: "add `per`: `plant`, `bed`, or an area such as `1000 sq ft` or `acre`",
    });
}
