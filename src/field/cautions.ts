/**
 * What could do harm in a mix as it is spread: found by comparing amounts with the thresholds. Data only; the words
 * are made elsewhere. None of these says that a mix is safe: they defer to the label, local codes, the certifier and
 * licensed advice.
 */

import {
  CAUTION_THRESHOLDS,
  type CautionThreshold,
  type ThresholdCode,
} from "../files/caution-thresholds.ts";
import type { Amendment, Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { type Season, takenUpKg } from "../season/season.ts";
import { type Amounts, appliedKg, suppliedKg } from "./delivery.ts";

/** One finding; `limit` is the threshold it was held against, in the same unit as the figure beside it. */
export type Finding =
  | {
      readonly code: "raw-manure-interval";
      readonly amendment: Amendment;
      /** Those too close to the harvest, earliest first. */
      readonly applications: readonly {
        readonly name: string;
        readonly day: number;
        readonly intervalDays: number;
      }[];
      readonly firstHarvest: number;
      readonly touchesSoil: boolean;
      readonly limit: number;
    }
  | { readonly code: "raw-manure-no-harvest"; readonly amendments: readonly Amendment[] }
  | {
      readonly code: "ammonia-injury";
      readonly amendments: readonly Amendment[];
      readonly perPlantKg: number;
      readonly limit: number;
    }
  | {
      readonly code: "salt-at-planting";
      /** kg per plant, or kg/m2. */
      readonly load: number;
      readonly per: "plant" | "area";
      /** Largest part first. */
      readonly from: readonly Amendment[];
      /** Salts whose index is not known and that are not counted. */
      readonly uncounted: readonly Amendment[];
      readonly limit: number;
    }
  | {
      readonly code: "boron" | "copper" | "zinc" | "sodium" | "chloride";
      readonly rate: number;
      readonly from: readonly Amendment[];
      readonly limit: number;
    }
  | { readonly code: "area-unknown"; readonly nutrients: readonly Nutrient[] }
  | {
      readonly code: "nitrogen-ahead";
      readonly aheadKg: number;
      readonly share: number;
      readonly day: number;
      readonly limit: number;
    }
  | { readonly code: "heavy-rain"; readonly rate: number; readonly day: number; readonly limit: number }
  | {
      readonly code: "phosphorus-above-need";
      readonly appliedKg: number;
      readonly needKg: number;
      readonly limit: number;
    }
  | {
      readonly code: "phosphorus-without-need";
      readonly appliedKg: number;
      readonly rate: number;
      readonly limit: number;
    }
  | { readonly code: "sodium-nitrate-share"; readonly share: number; readonly limit: number }
  | {
      readonly code: "liming";
      readonly rate: number;
      readonly from: readonly Amendment[];
      readonly limit: number;
    }
  | {
      readonly code:
        | "organic-prohibited"
        | "organic-restricted"
        | "organic-unknown"
        | "manure-process"
        | "silica"
        | "dust"
        | "pets"
        | "not-for-sale";
      readonly amendments: readonly Amendment[];
    }
  | { readonly code: "keep-off-plants"; readonly applications: readonly string[] }
  | {
      readonly code: "threshold-raised";
      readonly threshold: ThresholdCode;
      readonly standard: number;
      readonly limit: number;
    };

/** An application within so many days of planting meets seeds and young roots. */
const PLANTING_DAYS = 7;
/** Animal meals from this much nitrogen on release ammonia fast (the meals of Diaz-Perez et al. 2017 held 12 % and more). */
const AMMONIA_MEAL_N = 0.06;
/** Days between looks for the highest unused nitrogen. */
const LOOK_EVERY_DAYS = 7;
/** Amounts below this part of a threshold's own size are rounding. */
const SLACK = 1e-9;

const SILICA_ROCK = /greensand|granite|basalt|rock[ -](dust|phosphate)/i;

/** The threshold that holds for a plan, in SI. */
export function thresholdOf(plan: Plan, code: ThresholdCode): number {
  return plan.thresholds?.[code] ?? CAUTION_THRESHOLDS[code].value;
}

/**
 * Everything worth a caution in amounts as a plan spreads them, specific harm first.
 * @param amounts kg of each of the plan's amendments in each of its applications.
 */
export function findCautions(plan: Plan, season: Season, amounts: Amounts): Finding[] {
  const usedKg = amounts.map((row) => row.reduce((sum, kg) => sum + kg, 0));
  const used = plan.amendments.filter((_, a) => usedKg[a]! > 0);
  if (used.length === 0) return raisedThresholds(plan);
  const scene: Scene = { plan, season, amounts, usedKg, used };
  return [
    ...rawManure(scene),
    ...ammonia(scene),
    ...salt(scene),
    ...totals(scene),
    ...nitrogen(scene),
    ...phosphorus(scene),
    ...sodiumNitrate(scene),
    ...liming(scene),
    ...raisedThresholds(plan),
    ...organic(scene),
    ...handling(scene),
  ];
}

interface Scene {
  readonly plan: Plan;
  readonly season: Season;
  readonly amounts: Amounts;
  readonly usedKg: readonly number[];
  readonly used: readonly Amendment[];
}

const above = (value: number, limit: number): boolean => value > limit * (1 + SLACK) + SLACK * 1e-6;

function rawManure({ plan, amounts, used }: Scene): Finding[] {
  const raw = used.filter((a) => a.kind === "manure-raw");
  if (raw.length === 0) return [];
  const { harvest } = plan;
  if (!harvest) return [{ code: "raw-manure-no-harvest", amendments: raw }];
  const limit = thresholdOf(plan, harvest.touchesSoil ? "raw-manure-touching" : "raw-manure-clear");
  return raw.flatMap((amendment): Finding[] => {
    const a = plan.amendments.indexOf(amendment);
    const applications = plan.applications
      .filter((_, t) => amounts[a]![t]! > 0)
      .map(({ name, day }) => ({ name, day, intervalDays: harvest.firstDay - day }))
      .filter(({ intervalDays }) => intervalDays < limit);
    if (applications.length === 0) return [];
    const { firstDay: firstHarvest, touchesSoil } = harvest;
    return [{ code: "raw-manure-interval", amendment, applications, firstHarvest, touchesSoil, limit }];
  });
}

/** kg of each amendment that is spread close to planting. */
function atPlanting({ plan, amounts }: Scene): number[] {
  return amounts.map((row) =>
    row.reduce((sum, kg, t) => (Math.abs(plan.applications[t]!.day) <= PLANTING_DAYS ? sum + kg : sum), 0),
  );
}

function ammonia(scene: Scene): Finding[] {
  const { plan } = scene;
  const { plants } = plan.bed;
  if (plants === undefined) return [];
  const kg = atPlanting(scene);
  const meals = plan.amendments.filter(
    ({ kind, analysis }, a) => kind === "animal" && kg[a]! > 0 && (analysis.N ?? 0) >= AMMONIA_MEAL_N,
  );
  const perPlantKg =
    meals.reduce((sum, meal) => sum + kg[plan.amendments.indexOf(meal)]! * (meal.analysis.N ?? 0), 0) /
    plants;
  const limit = thresholdOf(plan, "ammonia-injury");
  return above(perPlantKg, limit) ? [{ code: "ammonia-injury", amendments: meals, perPlantKg, limit }] : [];
}

function salt(scene: Scene): Finding[] {
  const { plan } = scene;
  const kg = atPlanting(scene);
  const parts = plan.amendments
    .map((amendment, a) => ({ amendment, load: (kg[a]! * (amendment.saltIndex ?? 0)) / 100 }))
    .filter(({ load }) => load > 0)
    .sort((p, q) => q.load - p.load);
  const sum = parts.reduce((total, { load }) => total + load, 0);
  const { plants, areaM2 } = plan.bed;
  const per = plants !== undefined ? "plant" : "area";
  const over = plants ?? areaM2;
  if (over === undefined) return [];
  const limit = thresholdOf(plan, per === "plant" ? "salt-at-planting" : "salt-at-planting-area");
  const load = sum / over;
  if (!above(load, limit)) return [];
  return [
    {
      code: "salt-at-planting",
      load,
      per,
      from: parts.slice(0, 3).map(({ amendment }) => amendment),
      uncounted: plan.amendments.filter(
        (a, i) => kg[i]! > 0 && a.kind === "salt" && a.saltIndex === undefined,
      ),
      limit,
    },
  ];
}

const TOTALS = [
  ["boron", "B"],
  ["copper", "Cu"],
  ["zinc", "Zn"],
  ["sodium", "Na"],
  ["chloride", "Cl"],
] as const;

/** What a rate would be needed for where a bed has plants but no area: more than a trace of a trace element. */
const TRACES: ReadonlySet<Nutrient> = new Set(["B", "Cu", "Zn"]);
const TRACE_SOURCE = 0.01;

function totals({ plan, amounts, used }: Scene): Finding[] {
  const { areaM2 } = plan.bed;
  if (areaM2 === undefined) {
    const nutrients = TOTALS.map(([, nutrient]) => nutrient).filter(
      (nutrient) => TRACES.has(nutrient) && used.some((a) => (a.analysis[nutrient] ?? 0) >= TRACE_SOURCE),
    );
    return nutrients.length > 0 ? [{ code: "area-unknown", nutrients }] : [];
  }
  return TOTALS.flatMap(([code, nutrient]): Finding[] => {
    const rate = appliedKg(plan, amounts, nutrient) / areaM2;
    const limit = thresholdOf(plan, code);
    if (!above(rate, limit)) return [];
    const from = used.filter((a) => (a.analysis[nutrient] ?? 0) > 0);
    return [{ code, rate, from, limit }];
  });
}

/** The most nitrogen that lies available and not taken up, and when. Without a curve uptake is taken as even. */
function mostUnused({ plan, season, amounts }: Scene): { kg: number; day: number } {
  const demand = plan.demands.find((d) => d.nutrient === "N");
  const taken = (day: number): number => {
    if (!demand) return 0;
    if (demand.uptake) return takenUpKg(demand, day);
    return demand.minKg * Math.min(1, Math.max(0, day / plan.seasonDays));
  };
  const first = plan.applications[0]!.day;
  const days = new Set(plan.applications.map((a) => Math.min(a.day + 1, plan.seasonDays)));
  for (let day = first + LOOK_EVERY_DAYS; day < plan.seasonDays; day += LOOK_EVERY_DAYS) days.add(day);
  for (const day of season.checkpoints) days.add(day);
  let most = { kg: 0, day: first };
  for (const day of [...days].sort((a, b) => a - b)) {
    const kg = suppliedKg(plan, season, amounts, "N", day) - taken(day);
    if (kg > most.kg * (1 + SLACK)) most = { kg, day };
  }
  return most;
}

function nitrogen(scene: Scene): Finding[] {
  const { plan } = scene;
  const demand = plan.demands.find((d) => d.nutrient === "N");
  // What no need is stated for cannot be ahead of it.
  if (!demand || demand.minKg <= 0) return [];
  const { kg, day } = mostUnused(scene);
  const found: Finding[] = [];
  if (demand.uptake) {
    const share = kg / demand.minKg;
    const limit = thresholdOf(plan, "nitrogen-ahead");
    if (above(share, limit)) found.push({ code: "nitrogen-ahead", aheadKg: kg, share, day, limit });
  }
  if (plan.bed.areaM2 !== undefined) {
    const rate = kg / plan.bed.areaM2;
    const limit = thresholdOf(plan, "heavy-rain");
    if (above(rate, limit)) found.push({ code: "heavy-rain", rate, day, limit });
  }
  return found;
}

function phosphorus({ plan, amounts }: Scene): Finding[] {
  const fromCredits = plan.credits.reduce((sum, credit) => sum + (credit.contentKg.P2O5 ?? 0), 0);
  const applied = appliedKg(plan, amounts, "P2O5") + fromCredits;
  const needKg = plan.demands.find((d) => d.nutrient === "P2O5")?.minKg ?? 0;
  if (needKg > 0) {
    const limit = thresholdOf(plan, "phosphorus-above-need");
    return above(applied / needKg, limit)
      ? [{ code: "phosphorus-above-need", appliedKg: applied, needKg, limit }]
      : [];
  }
  const { areaM2 } = plan.bed;
  if (areaM2 === undefined) return [];
  const limit = thresholdOf(plan, "phosphorus-without-need");
  const rate = applied / areaM2;
  return above(rate, limit) ? [{ code: "phosphorus-without-need", appliedKg: applied, rate, limit }] : [];
}

/** Sodium nitrate holds 16 % N with 27 % Na; nothing else on sale comes near. */
const isSodiumNitrate = ({ analysis }: Amendment): boolean =>
  (analysis.N ?? 0) >= 0.1 && (analysis.Na ?? 0) >= 0.15;

function sodiumNitrate({ plan, usedKg }: Scene): Finding[] {
  const need = plan.demands.find((d) => d.nutrient === "N")?.minKg ?? 0;
  const nitrogenKg = plan.amendments.reduce(
    (sum, amendment, a) =>
      isSodiumNitrate(amendment) ? sum + usedKg[a]! * (amendment.analysis.N ?? 0) : sum,
    0,
  );
  const limit = thresholdOf(plan, "sodium-nitrate-share");
  if (!(need > 0) || !above(nitrogenKg / need, limit)) return [];
  return [{ code: "sodium-nitrate-share", share: nitrogenKg / need, limit }];
}

function liming({ plan, usedKg, used }: Scene): Finding[] {
  const { areaM2 } = plan.bed;
  if (areaM2 === undefined) return [];
  const rate = plan.amendments.reduce((sum, { cce = 0 }, a) => sum + usedKg[a]! * cce, 0) / areaM2;
  const limit = thresholdOf(plan, "liming");
  return above(rate, limit)
    ? [{ code: "liming", rate, from: used.filter((a) => (a.cce ?? 0) > 0), limit }]
    : [];
}

function raisedThresholds(plan: Plan): Finding[] {
  return (Object.keys(CAUTION_THRESHOLDS) as ThresholdCode[]).flatMap((threshold): Finding[] => {
    const limit = plan.thresholds?.[threshold];
    const { value, stricter }: CautionThreshold = CAUTION_THRESHOLDS[threshold];
    if (limit === undefined || !(stricter === "lower" ? limit > value : limit < value)) return [];
    return [{ code: "threshold-raised", threshold, standard: value, limit }];
  });
}

function about(
  code: Extract<Finding, { readonly amendments: readonly Amendment[] }>["code"],
  amendments: readonly Amendment[],
): Finding[] {
  return amendments.length > 0 ? [{ code, amendments } as Finding] : [];
}

function organic({ used }: Scene): Finding[] {
  return [
    ...about(
      "organic-prohibited",
      used.filter((a) => a.organic === "prohibited"),
    ),
    ...about(
      "organic-restricted",
      used.filter((a) => a.organic === "restricted"),
    ),
    ...about(
      "organic-unknown",
      used.filter((a) => a.organic === "unknown"),
    ),
  ];
}

const DUSTY: ReadonlySet<Amendment["kind"]> = new Set(["animal", "plant", "mineral", "compost"]);

function handling({ plan, amounts, used }: Scene): Finding[] {
  const later = plan.applications.filter(
    (application, t) => application.day > 0 && amounts.some((row) => row[t]! > 0),
  );
  return [
    ...about(
      "manure-process",
      used.filter((a) => a.kind === "manure-processed" || a.kind === "compost"),
    ),
    ...(later.length > 0
      ? [{ code: "keep-off-plants", applications: later.map((a) => a.name) } satisfies Finding]
      : []),
    ...about(
      "silica",
      used.filter((a) => SILICA_ROCK.test(`${a.id} ${a.name}`)),
    ),
    ...about(
      "dust",
      used.filter((a) => DUSTY.has(a.kind)),
    ),
    ...about(
      "pets",
      used.filter((a) => a.kind === "animal"),
    ),
    ...about("not-for-sale", used.length > 1 ? used : []),
  ];
}
