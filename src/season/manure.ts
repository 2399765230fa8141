/**
 * Nitrogen of raw manure that a crop can use in the first season, by its ammonium, its animal and how soon it is dug in.
 *
 *     with ammonium_n   ammonium x (1 - v) at once, organic nitrogen x k as it rots, and no other loss
 *     without           a part of all its nitrogen
 *
 * v: a third of the ammonium is lost where manure stays on the surface (Montana State University); 0 dug in within 12 hours,
 * a sixth within 96, a quarter later, a judgement between. k: cattle, sheep, swine 0.25 (0.35 where wet), horse 0.25 to 0.30,
 * poultry 0.55 (Cornell University). Without an ammonium test: 60, 45 and 25 % of total N for beef manure dug in within 12
 * hours, 96 hours, later (University of Minnesota Extension).
 */
import type { Amendment, Application, NamedCurve } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";

/** How an application is put down, as far as manure's nitrogen is concerned. */
export type Spreading = Pick<Application, "placement" | "dugInDays">;

/** When manure is dug in. */
const WHEN = ["within-12-hours", "within-96-hours", "later", "never"] as const;
type When = (typeof WHEN)[number];

const LOST: Readonly<Record<When, number>> = {
  "within-12-hours": 0,
  "within-96-hours": 1 / 6,
  later: 1 / 4,
  never: 1 / 3,
};
const WITHOUT_TEST: Readonly<Record<When, number>> = {
  "within-12-hours": 0.6,
  "within-96-hours": 0.45,
  later: 0.25,
  never: 0.25,
};
/** Organic nitrogen that a first season frees. */
const FREED = { cattle: 0.25, sheep: 0.25, swine: 0.25, horse: 0.25, poultry: 0.55 } as const;
/** The same of wet manure of cattle, sheep and swine. */
const FREED_WET = 0.35;
const WET_BELOW = 0.18;
/** Of what no test divides, half is taken for ammonium; a judgement. */
const AT_ONCE = 0.5;
/** As `medium`: manures with 3 to 5 % N. */
const ROTS = { halfLifeDays: 21, q10: 1.2, referenceC: 25 } as const;

const HOUR = 1 / 24;
/** Hours are written as whole numbers; a day's 24th is not exact. */
const within = (days: number, hours: number): boolean => days <= hours * HOUR * (1 + 1e-9);

/** When an application is dug in: as it says, else by where it goes. */
function whenDug({ placement, dugInDays }: Spreading): When {
  if (placement === "surface") return "never";
  if (dugInDays === undefined)
    return placement === "hole" || placement === "band" ? "within-12-hours" : "later";
  if (within(dugInDays, 12)) return "within-12-hours";
  return within(dugInDays, 96) ? "within-96-hours" : "later";
}

const curves = new WeakMap<Amendment, Map<When, NamedCurve>>();

/** The release of a raw manure's nitrogen as an application puts it down; undefined where its own release governs. */
function manureCurve(amendment: Amendment, how: Spreading): NamedCurve | undefined {
  if (amendment.manure === undefined) return undefined;
  const made = curves.get(amendment) ?? new Map<When, NamedCurve>();
  curves.set(amendment, made);
  const when = whenDug(how);
  const known = made.get(when) ?? curveFor(amendment, when);
  made.set(when, known);
  return known;
}

/** The curve that governs one nutrient of an amendment, of raw manure as it is put down. */
export function curveOf(amendment: Amendment, nutrient: Nutrient, how: Spreading = {}): NamedCurve {
  const raw = nutrient === "N" ? manureCurve(amendment, how) : undefined;
  return raw ?? amendment.release.byNutrient[nutrient] ?? amendment.release.other;
}

function curveFor({ analysis, manure = {} }: Amendment, when: When): NamedCurve {
  const nitrogen = analysis.N ?? 0;
  const { ammoniumN, animal, dryMatter = 1 } = manure;
  const label = "raw manure";
  if (ammoniumN === undefined || nitrogen === 0) {
    const all = WITHOUT_TEST[when];
    return {
      label,
      curve: { kind: "pool", atOnce: AT_ONCE * all, later: (1 - AT_ONCE) * all, ...ROTS },
    };
  }
  const mayBeWet = animal === undefined || animal === "cattle" || animal === "sheep" || animal === "swine";
  const freed = mayBeWet && dryMatter < WET_BELOW ? FREED_WET : FREED[animal ?? "cattle"];
  const ammonium = Math.min(1, ammoniumN / nitrogen);
  const atOnce = ammonium * (1 - LOST[when]);
  return { label, curve: { kind: "pool", atOnce, later: (1 - ammonium) * freed, ...ROTS } };
}
