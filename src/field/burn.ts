/**
 * What can burn seeds and young roots: nitrogen that gives off ammonia, and salt, judged in the soil that an application
 * is mixed into by its placement.
 */
import { type Amendment, type Application, type Placement, type Plan, wholeBed } from "../model.ts";
import { curveOf, isManure } from "../season/season.ts";
import type { Amounts } from "./delivery.ts";

/** What is spread wide within so many days of planting meets seeds and young roots. */
const PLANTING_DAYS = 7;
/**
 * What goes into a hole or a band burns from so many days before planting on: ammonia of meals is at its height some nine
 * days after they are put down, and is gone after three weeks (a judgement on incubations of high-nitrogen meals).
 */
export const BURN_DAYS = 21;
/** Materials from this much nitrogen on release ammonia fast (the meals of Diaz-Perez et al. 2017 held 12 % and more). */
const AMMONIA_N = 0.06;
/**
 * Soil that a plant, or a metre of band, is put into, in soils of one planting hole (1 kg). The band: 5 cm wide and deep,
 * 1.3 kg/L. A judgement, as the hole's 1 kg is.
 */
export const HOLES = { plant: 1, metre: 0.05 * 0.05 * 1000 * 1.3 } as const;

/** Where an application goes. A bed of plants without an area is fed plant by plant; in rows it is not known. */
function placementOf(plan: Plan, application: Application): Placement | undefined {
  const { areaM2, plants, rows } = plan.bed;
  if (application.placement !== undefined) return application.placement;
  if (areaM2 === undefined && plants !== undefined) return "hole";
  return rows === undefined ? "broadcast" : undefined;
}

/** Applications to a bed in rows that may go along them or over the whole bed: the plan does not say. */
export function unplaced(plan: Plan): readonly Application[] {
  return plan.applications.filter((application) => placementOf(plan, application) === undefined);
}

/** How many holes, or metres of band, an application goes into; null: it is spread wide, or not known. */
function spots(
  plan: Plan,
  application: Application,
  placement: Placement | undefined = placementOf(plan, application),
): { readonly per: "plant" | "metre"; readonly count: number } | null {
  const { plants, rows, rowLengthM } = wholeBed(plan.bed);
  if (placement === "band" && rows !== undefined && rowLengthM !== undefined)
    return { per: "metre", count: rows * rowLengthM };
  const near = placement === "hole" || placement === "band";
  return near && plants !== undefined ? { per: "plant", count: plants } : null;
}

const nearPlanting = (application: Application): boolean => Math.abs(application.day) <= PLANTING_DAYS;

/**
 * Whether nitrogen of a material can leave it as ammonia near a root: manures, and everything rich in nitrogen but
 * nitrates. Finished compost has none to give.
 */
export function givesAmmonia({ id, name, kind, analysis }: Amendment): boolean {
  const nitrogen = analysis.N ?? 0;
  if (!(nitrogen > 0) || kind === "compost") return false;
  if (isManure(kind)) return true;
  const words = `${id} ${name}`.toLowerCase();
  const nitrate = /nitrate|saltpet/.test(words) && !/ammoni/.test(words);
  return !nitrate && nitrogen >= AMMONIA_N;
}

/** A load in the soil next to plants. */
interface Load {
  /** kg per plant or per metre of band. */
  readonly load: number;
  readonly per: "plant" | "metre";
  /** Largest part first. */
  readonly from: readonly Amendment[];
  readonly application: Application;
}

/** Amendments of which there is something, largest first. */
function largestFirst({ amendments }: Plan, kgOf: (amendment: Amendment, a: number) => number) {
  return amendments
    .map((amendment, a) => ({ amendment, kg: kgOf(amendment, a) }))
    .filter(({ kg }) => kg > 0)
    .sort((p, q) => q.kg - p.kg);
}

const perHole = ({ load, per }: Load): number => load / HOLES[per];

/**
 * The heaviest load of all applications that are put next to seeds, roots or growing plants; undefined: there is none.
 * @param banded where the plan does not say, take it for this.
 */
function heaviest(
  plan: Plan,
  amounts: Amounts,
  weigh: (amendment: Amendment) => number,
  banded?: "band",
): Load | undefined {
  let worst: Load | undefined;
  plan.applications.forEach((application, t) => {
    const placement = placementOf(plan, application);
    if (application.day < -BURN_DAYS || (banded !== undefined && placement !== undefined)) return;
    const place = spots(plan, application, placement ?? banded);
    if (place === null) return;
    const parts = largestFirst(plan, (amendment, a) => amounts[a]![t]! * weigh(amendment));
    const load = parts.reduce((sum, { kg }) => sum + kg, 0) / place.count;
    const found = { load, per: place.per, from: parts.map(({ amendment }) => amendment), application };
    if (load > 0 && (!worst || perHole(found) > perHole(worst))) worst = found;
  });
  return worst;
}

/**
 * Nitrogen that gives off ammonia, in the holes or bands of the heaviest application.
 * @param banded of the applications that the plan does not place, if they were put in bands.
 */
export function ammoniaLoad(plan: Plan, amounts: Amounts, banded?: "band"): Load | undefined {
  const nitrogenOf = (amendment: Amendment): number =>
    givesAmmonia(amendment) ? (amendment.analysis.N ?? 0) : 0;
  return heaviest(plan, amounts, nitrogenOf, banded);
}

/** Salt as sodium nitrate, in the same places. */
export function saltLoad(plan: Plan, amounts: Amounts, banded?: "band"): Load | undefined {
  return heaviest(plan, amounts, (amendment) => saltIndexOf(amendment) / 100, banded);
}

/** Salt as sodium nitrate, kg in all applications near planting that are spread wide; where no index is known, the upper end. */
export function wideSaltKg(
  plan: Plan,
  amounts: Amounts,
): { readonly kg: number; readonly from: readonly Amendment[] } {
  const kg = plan.amendments.map((amendment, a) =>
    plan.applications.reduce(
      (sum, application, t) =>
        nearPlanting(application) && spots(plan, application) === null
          ? sum + (amounts[a]![t]! * saltIndexOf(amendment)) / 100
          : sum,
      0,
    ),
  );
  const from = largestFirst(plan, (_, a) => kg[a]!).map(({ amendment }) => amendment);
  return { kg: kg.reduce((sum, one) => sum + one, 0), from };
}

/** Salt index per percent of the nutrient: potash as chloride (as sulfate 0.853), ready nitrogen as ammonium sulfate. */
const PER_PERCENT = { k2o: 1.936, nitrogen: 3.253 } as const;
/** Natural organic materials of 5 and of 13 % nitrogen. */
const ORGANIC_INDEX = 3.5;

/**
 * The salt index of a material (sodium nitrate = 100), or the upper end of the range it lies in: from its potash, its ready
 * nitrogen and the index of natural organics (Rader, White and Whittaker 1943, Soil Sci. 55:201; the values from memory).
 */
export function saltIndexOf(amendment: Amendment): number {
  const { saltIndex, analysis, kind } = amendment;
  if (saltIndex !== undefined) return saltIndex;
  const { curve } = curveOf(amendment, "N");
  const ready = curve.kind === "pool" ? Math.max(0, curve.atOnce) : 0;
  const potash = (analysis.K2O ?? 0) * 100 * PER_PERCENT.k2o;
  const organic = kind === "mineral" || kind === "salt" ? 0 : ORGANIC_INDEX;
  const nitrogen = (analysis.N ?? 0) * 100 * ready * PER_PERCENT.nitrogen;
  return organic + potash + nitrogen;
}
