/** What files say about how much things vary and how sure needs are to be met, made ready for the plan. */
import type { Amendment, Demand, MaterialKind, NutrientMap, SureAsked, Varies } from "../model.ts";
import { NUTRIENTS, type Nutrient } from "../nutrients.ts";
import { defined } from "../optional.ts";
import type { Notice } from "../problem.ts";
import type { Cursor } from "./context.ts";
import { type AnalysedSpec, kindsSchema, type SureSpec } from "./schema/sure.ts";
import { LABORATORY_SPREAD, lotSpread } from "./spread-defaults.ts";

/** A file's own spreads by kind of material. */
export type Kinds = ReadonlyMap<MaterialKind, Varies>;

/** A `kinds:` map. */
export function readKinds(at: Cursor): Kinds {
  const kinds = (at.written() ?? null) === null ? {} : (at.read(kindsSchema()) ?? {});
  return new Map(
    Object.entries(kinds).flatMap(([kind, entry]) => (entry ? [[kind as MaterialKind, entry.varies]] : [])),
  );
}

/**
 * What is known of a material's contents once label, kind and laboratory are put together; `varies` absent: as usual for
 * the kind. A label is weighed with what a laboratory found, each by its precision (updating of a normal law):
 * mean = (label / lot^2 + lab / laboratory^2) / (1 / lot^2 + 1 / laboratory^2), and the lot is known that much better.
 */
export function contentsOf(
  amendment: {
    readonly analysis?: NutrientMap;
    readonly kind?: MaterialKind;
    readonly varies?: Varies;
    readonly analysed?: AnalysedSpec;
  },
  kinds: Kinds,
): Pick<Amendment, "analysis" | "varies"> {
  const { analysis: label = {}, kind, varies: own, analysed } = amendment;
  const ofKind = kind && kinds.get(kind);
  const stated: Varies | undefined =
    own && ofKind
      ? {
          // What the amendment says of all its nutrients is above what its kind says of one.
          byNutrient: own.other === undefined ? { ...ofKind.byNutrient, ...own.byNutrient } : own.byNutrient,
          ...defined({ other: own.other ?? ofKind.other }),
        }
      : (own ?? ofKind);
  if (analysed === undefined) return { analysis: label, ...defined({ varies: stated }) };
  const analysis: Partial<Record<Nutrient, number>> = { ...label };
  const byNutrient: Partial<Record<Nutrient, number>> = { ...stated?.byNutrient };
  for (const [name, found] of Object.entries(analysed.fractions)) {
    const nutrient = name as Nutrient;
    const before = label[nutrient];
    const laboratory =
      (LABORATORY_SPREAD.byNutrient[nutrient] ?? LABORATORY_SPREAD.other) / Math.sqrt(analysed.samples);
    if (before === undefined || before === 0) {
      analysis[nutrient] = found;
      byNutrient[nutrient] = laboratory;
      continue;
    }
    const lot = lotSpread(stated, kind, nutrient);
    if (lot === 0) continue;
    const precision = 1 / lot ** 2 + 1 / laboratory ** 2;
    analysis[nutrient] = (before / lot ** 2 + found / laboratory ** 2) / precision;
    byNutrient[nutrient] = 1 / Math.sqrt(precision);
  }
  return { analysis, varies: { byNutrient, ...defined({ other: stated?.other }) } };
}

/** Nutrients that `sure: 90%` speaks of: those that a soil does not keep for the next season. */
const NOT_KEPT: readonly Nutrient[] = ["N", "S"];

/** What `sure` asks at a place, by the needs of the plan; what it does not need is reported. */
export function sureAsked(at: Cursor, spec: SureSpec, demands: readonly Demand[]): SureAsked | undefined {
  const needed = NUTRIENTS.filter((nutrient) =>
    demands.some((demand) => demand.nutrient === nutrient && demand.minKg > 0),
  );
  const levels = new Map<Nutrient, number>();
  const list = needed.length === 0 ? "nothing" : needed.join(", ");
  if (spec.each !== undefined) for (const nutrient of needed) levels.set(nutrient, spec.each);
  if (spec.all !== undefined) {
    const named = NOT_KEPT.filter((nutrient) => needed.includes(nutrient));
    if (named.length === 0)
      at.complain({
        code: "choice-unknown",
        wrong: "a single share speaks of N and S, and the plan needs neither",
        hint: `name what to be sure of: it needs ${list}`,
      });
    for (const nutrient of named) levels.set(nutrient, spec.all);
  }
  for (const { nutrient, name, value } of spec.nutrients)
    if (needed.includes(nutrient)) levels.set(nutrient, value);
    else
      at.at(name).complainOfKey({
        code: "choice-unknown",
        wrong: `the plan has no need of ${nutrient} to be sure of`,
        hint: `it needs ${list}`,
      });
  const together = spec.together === undefined ? undefined : { nutrients: needed, p: spec.together };
  if (levels.size === 0 && together === undefined) return undefined;
  const rising = NUTRIENTS.filter((nutrient) => levels.has(nutrient));
  return {
    each: rising.map((nutrient) => ({ nutrient, p: levels.get(nutrient)! })),
    ...defined({ together }),
  };
}

/** Kinds that come loose or without a guarantee, so that lots differ far more than those of labelled bags. */
const WITHOUT_LABEL: ReadonlySet<MaterialKind> = new Set<MaterialKind>(["manure-raw", "compost"]);

/** Materials without a label whose files do not say how much they vary, so that a usual figure is taken. */
export function assumedSpreads(amendments: readonly Amendment[]): Notice[] {
  const loose = ({ kind, packs, bulkPricePerKg }: Amendment): boolean =>
    kind === undefined ? packs.length === 0 && bulkPricePerKg !== undefined : WITHOUT_LABEL.has(kind);
  return amendments
    .filter((amendment) => loose(amendment) && amendment.varies === undefined)
    .map(({ id, kind }): Notice => {
      const percent = (nutrient: Nutrient): string =>
        `${nutrient} ${Math.round(100 * lotSpread(undefined, kind, nutrient))}%`;
      const usual = (["N", "P2O5", "K2O"] as const).map(percent).join(", ");
      const text = `${id} has no label to hold it to, and nothing says how much its lots vary; the usual for ${kind ?? "a material of no kind"} is taken (${usual}, others ${Math.round(100 * lotSpread(undefined, kind, "S"))}%). Say \`varies\`, or have it \`analysed\`.`;
      return { code: "spread-assumed", text };
    });
}
