/** Amounts per plant, per area or per bed, counted for one bed. */
import type { Bed, NutrientMap } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import type { Per } from "../units.ts";
import { complain, type Loading } from "./context.ts";
import type { Amounts } from "./schema/amounts.ts";
import type { MassOrRate } from "./schema/values.ts";
import type { Path, Tree } from "./source.ts";

/** A bed as far as it is known, and where its absence is to be reported. */
export interface BedAt {
  readonly bed: Bed;
  readonly tree: Tree;
  readonly path: Path;
  /** Missing measures already reported. */
  readonly reported: Set<"plants" | "area">;
  /** The bed itself was wrong and has been reported, so nothing is said of what it lacks. */
  readonly broken: boolean;
}

/** How often the amount is counted in the whole bed, or undefined where the bed does not say (reported once). */
function timesPer(loading: Loading, per: Per, at: BedAt): number | undefined {
  if (per.kind === "bed") return 1;
  if (per.kind === "plant")
    return at.bed.plants ?? lacking(loading, at, "plants", "how many plants it holds", "`plants: 240`");
  const area = bedArea(loading, at);
  return area === undefined ? undefined : area / per.areaM2;
}

/** The area of the bed in m2, or undefined where it does not say (reported once). */
export function bedArea(loading: Loading, at: BedAt): number | undefined {
  return at.bed.areaM2 ?? lacking(loading, at, "area", "its area", "`area: 1500 sq ft`");
}

function lacking(
  loading: Loading,
  at: BedAt,
  key: "plants" | "area",
  what: string,
  example: string,
): undefined {
  if (at.broken || at.reported.has(key)) return undefined;
  at.reported.add(key);
  complain(loading, at.tree, {
    code: "bed-missing",
    path: at.path,
    at: "key",
    wrong: `amounts are given per ${key === "plants" ? "plant" : "area"}, and the bed does not say ${what}`,
    hint: `add ${example} under \`bed\``,
  });
  return undefined;
}

/** An amount in kg for the whole bed, or undefined where the bed does not say enough. */
export function bedKg(
  loading: Loading,
  amount: MassOrRate,
  factor: number,
  per: Per | undefined,
  at: BedAt,
): number | undefined {
  const times =
    amount.kind === "rate"
      ? timesPer(loading, { kind: "area", areaM2: 1 }, at)
      : per === undefined
        ? undefined
        : timesPer(loading, per, at);
  return times === undefined ? undefined : amount.value * factor * times;
}

/** Amounts in kg for the whole bed; those that cannot be counted are left out, and the reason has been reported. */
export function bedAmounts(
  loading: Loading,
  amounts: Amounts<MassOrRate> | undefined,
  at: BedAt,
): NutrientMap {
  const kg: Partial<Record<Nutrient, number>> = {};
  for (const e of amounts?.nutrients ?? []) {
    const value = bedKg(loading, e.value, e.factor, amounts?.per, at);
    if (value !== undefined) kg[e.nutrient] = value;
  }
  return kg;
}
