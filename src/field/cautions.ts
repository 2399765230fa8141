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
import { phosphateOf, phosphorusLevel } from "../files/soil.ts";
import type { Amendment, Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { defined } from "../optional.ts";
import { isManure, type Season, SURFACE_LOSS, takenUpKg } from "../season/season.ts";
import { limingOf } from "./acidity.ts";
import { ammoniaLoad, HOLES_PER_METRE, saltIndexOf, saltLoad, wideSaltKg } from "./burn.ts";
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
      /** Largest part first. */
      readonly amendments: readonly Amendment[];
      /** kg of nitrogen per plant, or per metre of band. */
      readonly load: number;
      readonly per: "plant" | "metre";
      readonly limit: number;
    }
  | {
      readonly code: "salt-at-planting";
      /** kg per plant or per metre of band, or kg/m2. */
      readonly load: number;
      readonly per: "plant" | "metre" | "area";
      /** Largest part first. */
      readonly from: readonly Amendment[];
      /** Those whose index is not known and was estimated from what they hold. */
      readonly estimated: readonly Amendment[];
      readonly limit: number;
    }
  | {
      readonly code: "wood-ash";
      readonly rate: number;
      readonly from: readonly Amendment[];
      readonly limit: number;
    }
  | {
      readonly code: "boron";
      readonly group: BoronGroup;
      readonly rate: number;
      readonly from: readonly Amendment[];
      readonly limit: number;
    }
  | {
      readonly code: "copper" | "zinc" | "sodium" | "chloride";
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
      /** Between the days that are checked the crop has taken up more than is available. */
      readonly code: "short-between";
      readonly nutrient: Nutrient;
      readonly day: number;
      readonly needKg: number;
      readonly availableKg: number;
      readonly limit: number;
    }
  | {
      /** Nitrogen spread, credits included, that the season does not release. */
      readonly code: "nitrogen-left";
      readonly spreadKg: number;
      readonly leftKg: number;
      readonly rate: number;
      readonly limit: number;
    }
  | {
      readonly code: "phosphorus-above-need";
      readonly appliedKg: number;
      /** What it is held against: what leaves with the harvest, or what the plan needs. */
      readonly againstKg: number;
      readonly against: "removal" | "need";
      readonly rating?: string;
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
      readonly code: "liming" | "acidifying";
      /** As limestone; of what makes soil acid, the limestone it takes up. */
      readonly rate: number;
      readonly from: readonly Amendment[];
      readonly limit: number;
    }
  | {
      /** The mix moves the pH the wrong way. */
      readonly code: "acidity-wrong-way";
      readonly pH: number;
      readonly rate: number;
      readonly from: readonly Amendment[];
    }
  | { readonly code: "surface-loss"; readonly amendments: readonly Amendment[]; readonly share: number }
  | { readonly code: "salt-gathers"; readonly cover: "plastic" | "tunnel"; readonly rate: number | null }
  | { readonly code: "phosphate-needs-acid"; readonly amendments: readonly Amendment[] }
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

/** Days between looks for the highest unused nitrogen. */
const LOOK_EVERY_DAYS = 7;
/** Amounts below this part of a threshold's own size are rounding. */
const SLACK = 1e-9;

const SILICA_ROCK = /greensand|granite|basalt|rock[ -](dust|phosphate)/i;

/** The threshold that holds for a plan, in SI. */
function thresholdOf(plan: Plan, code: ThresholdCode): number {
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
    ...ash(scene),
    ...cover(scene),
    ...surface(scene),
    ...acidNeeded(scene),
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

function ammonia({ plan, amounts }: Scene): Finding[] {
  const found = ammoniaLoad(plan, amounts);
  const limit = thresholdOf(plan, "ammonia-injury") * (found?.per === "metre" ? HOLES_PER_METRE : 1);
  if (!found || !above(found.load, limit)) return [];
  return [{ code: "ammonia-injury", amendments: found.from, load: found.load, per: found.per, limit }];
}

function salt({ plan, amounts }: Scene): Finding[] {
  const report = (
    load: number,
    per: "plant" | "metre" | "area",
    from: readonly Amendment[],
    limit: number,
  ) =>
    above(load, limit)
      ? [
          {
            code: "salt-at-planting" as const,
            load,
            per,
            from: from.slice(0, 3),
            estimated: from.filter((a) => a.saltIndex === undefined),
            limit,
          },
        ]
      : [];
  const near = saltLoad(plan, amounts);
  const { areaM2 } = plan.bed;
  const wide = wideSaltKg(plan, amounts);
  const nearLimit = thresholdOf(plan, "salt-at-planting");
  return [
    ...(near
      ? report(near.load, near.per, near.from, nearLimit * (near.per === "metre" ? HOLES_PER_METRE : 1))
      : []),
    ...(areaM2 === undefined
      ? []
      : report(wide.kg / areaM2, "area", wide.from, thresholdOf(plan, "salt-at-planting-area"))),
  ];
}

/** Under plastic or a tunnel no rain carries salt down. */
function cover({ plan, amounts }: Scene): Finding[] {
  const over = plan.cover;
  if (over === undefined || over === "open") return [];
  const { areaM2 } = plan.bed;
  const kg = plan.amendments.reduce(
    (sum, amendment, a) =>
      sum + (amounts[a]!.reduce((all, one) => all + one, 0) * saltIndexOf(amendment).high) / 100,
    0,
  );
  return [{ code: "salt-gathers", cover: over, rate: areaM2 === undefined ? null : kg / areaM2 }];
}

/** Manure that is left on the surface. */
function surface({ plan, amounts, used }: Scene): Finding[] {
  const on = plan.applications.flatMap(({ placement }, t) => (placement === "surface" ? [t] : []));
  const amendments = used.filter(
    (a) => isManure(a.kind) && on.some((t) => amounts[plan.amendments.indexOf(a)]![t]! > 0),
  );
  return amendments.length > 0 ? [{ code: "surface-loss", amendments, share: SURFACE_LOSS }] : [];
}

/** Phosphorus of bone and rock, where the plan does not say how acid its soil is. */
function acidNeeded({ plan, used }: Scene): Finding[] {
  if (plan.soil?.pH !== undefined) return [];
  if (!plan.demands.some((d) => d.nutrient === "P2O5" && d.minKg > 0)) return [];
  const amendments = used.filter((a) => phosphateOf(a) !== undefined);
  return amendments.length > 0 ? [{ code: "phosphate-needs-acid", amendments }] : [];
}

/** Crops by how much boron they bear. */
export type BoronGroup = "sensitive" | "ordinary" | "demanding";

/**
 * The boron group of a crop by its name. Demanding: 1.5 to 3 lb/acre on broccoli, kale and cole crops (University of
 * Delaware, 2012), beets and celery with them from memory. Sensitive: yields of beans fell at 4.4 kg/ha at two of four
 * sites (Prince Edward Island); peas and strawberries with them from memory.
 */
function boronGroup(crop: string): BoronGroup {
  const name = crop.toLowerCase();
  if (/\b(beans?|peas?|cowpeas?|strawberr)/.test(name)) return "sensitive";
  return /broccoli|cabbage|cauliflower|kale|collard|brussels|kohlrabi|turnip|rutabaga|radish|beet|chard|celer/.test(
    name,
  )
    ? "demanding"
    : "ordinary";
}

function boronLimit(plan: Plan, group: BoronGroup): number {
  if (group === "ordinary" || plan.thresholds?.boron !== undefined) return thresholdOf(plan, "boron");
  return thresholdOf(plan, group === "sensitive" ? "boron-sensitive" : "boron-demanding");
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
    const group = boronGroup(plan.targetName);
    const limit = code === "boron" ? boronLimit(plan, group) : thresholdOf(plan, code);
    if (!above(rate, limit)) return [];
    const from = used.filter((a) => (a.analysis[nutrient] ?? 0) > 0);
    return [code === "boron" ? { code, group, rate, from, limit } : { code, rate, from, limit }];
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

/** Early on a need is so small that a share of it says nothing: a twentieth of the season's. */
const TELLING_SHARE = 0.05;

/**
 * Needs are checked just before each application and at the end. In between a slow mix can fall behind the crop: the day
 * and nutrient with most missing, measured by the season's need, where more is missing than the limit allows.
 */
function shortBetween({ plan, season, amounts }: Scene): Finding[] {
  const limit = thresholdOf(plan, "short-between");
  const checked = new Set(season.checkpoints);
  const first = plan.applications[0]!.day;
  const weekly: number[] = [];
  for (let day = first + LOOK_EVERY_DAYS; day < plan.seasonDays; day += LOOK_EVERY_DAYS) weekly.push(day);
  let worst: (Finding & { readonly code: "short-between" }) | undefined;
  let most = 0;
  for (const demand of plan.demands) {
    if (!demand.uptake) continue;
    const { nutrient } = demand;
    const on = (day: number) => ({
      needKg: takenUpKg(demand, day),
      availableKg: suppliedKg(plan, season, amounts, nutrient, day),
    });
    const isShort = ({ needKg, availableKg }: ReturnType<typeof on>) =>
      needKg > 0 && above((needKg - availableKg) / needKg, limit);
    // Where a checked day is missed, that is told already.
    if (season.checkpoints.some((day) => isShort(on(day)))) continue;
    for (const day of [...weekly, ...demand.uptake.map(([x]) => x)]) {
      if (day <= first || day >= plan.seasonDays || checked.has(day)) continue;
      const found = on(day);
      const ofSeason = (found.needKg - found.availableKg) / demand.minKg;
      if (found.needKg < TELLING_SHARE * demand.minKg || !isShort(found) || !(ofSeason > most)) continue;
      most = ofSeason;
      worst = { code: "short-between", nutrient, day, ...found, limit };
    }
  }
  return worst ? [worst] : [];
}

/** Nitrogen that the season does not release: it goes on after the crop, in winter too. */
function nitrogenLeft({ plan, season, amounts }: Scene): Finding[] {
  const { areaM2 } = plan.bed;
  if (areaM2 === undefined) return [];
  const fromCredits = plan.credits.reduce((sum, credit) => sum + (credit.contentKg.N ?? 0), 0);
  const spreadKg = appliedKg(plan, amounts, "N") + fromCredits;
  const leftKg = spreadKg - suppliedKg(plan, season, amounts, "N", plan.seasonDays);
  const rate = leftKg / areaM2;
  const limit = thresholdOf(plan, "nitrogen-left");
  return above(rate, limit) ? [{ code: "nitrogen-left", spreadKg, leftKg, rate, limit }] : [];
}

function nitrogen(scene: Scene): Finding[] {
  const { plan } = scene;
  const found: Finding[] = [...shortBetween(scene), ...nitrogenLeft(scene)];
  const demand = plan.demands.find((d) => d.nutrient === "N");
  // What no need is stated for cannot be ahead of it.
  if (!demand || demand.minKg <= 0) return found;
  const { kg, day } = mostUnused(scene);
  const rained = plan.cover === undefined || plan.cover === "open";
  if (demand.uptake) {
    const share = kg / demand.minKg;
    const limit = thresholdOf(plan, "nitrogen-ahead");
    if (above(share, limit)) found.push({ code: "nitrogen-ahead", aheadKg: kg, share, day, limit });
  }
  if (plan.bed.areaM2 !== undefined && rained) {
    const rate = kg / plan.bed.areaM2;
    const limit = thresholdOf(plan, "heavy-rain");
    if (above(rate, limit)) found.push({ code: "heavy-rain", rate, day, limit });
  }
  return found;
}

/**
 * Phosphorus is said aloud where it piles up: against what leaves with the harvest, or where that is not known against the
 * need; at any surplus on soil that has too much already, never on soil that is poor.
 */
function phosphorus({ plan, amounts }: Scene): Finding[] {
  const level = phosphorusLevel(plan.soil?.pRating);
  if (level === "below") return [];
  const fromCredits = plan.credits.reduce((sum, credit) => sum + (credit.contentKg.P2O5 ?? 0), 0);
  const applied = appliedKg(plan, amounts, "P2O5") + fromCredits;
  const needKg = plan.demands.find((d) => d.nutrient === "P2O5")?.minKg ?? 0;
  const removalKg = plan.removalKg?.P2O5 ?? 0;
  const against = removalKg > needKg ? "removal" : "need";
  const againstKg = Math.max(needKg, removalKg);
  const rating = plan.soil?.pRating;
  if (againstKg > 0) {
    const limit = level === "above" ? 1 : thresholdOf(plan, "phosphorus-above-need");
    if (!above(applied / againstKg, limit)) return [];
    return [
      {
        code: "phosphorus-above-need",
        appliedKg: applied,
        againstKg,
        against,
        limit,
        ...defined({ rating }),
      },
    ];
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

/** Neutral enough that a push either way is no fault. */
const GOOD_PH = { least: 6, most: 7 } as const;
/** Below this part of the threshold a push is not worth a word. */
const SMALL_PUSH = 0.1;

/** What the mix does to the acidity of the soil: lime and ash against sulfur. */
function liming({ plan, usedKg, used }: Scene): Finding[] {
  const { areaM2 } = plan.bed;
  if (areaM2 === undefined) return [];
  const sum =
    plan.amendments.reduce((all, amendment, a) => all + usedKg[a]! * limingOf(amendment), 0) / areaM2;
  const limit = thresholdOf(plan, sum < 0 ? "acidifying" : "liming");
  const rate = Math.abs(sum);
  const from = used.filter((a) => (sum < 0 ? limingOf(a) < 0 : limingOf(a) > 0));
  const found: Finding[] = [];
  if (above(rate, limit)) found.push({ code: sum < 0 ? "acidifying" : "liming", rate, from, limit });
  const pH = plan.soil?.pH;
  const wrong = pH !== undefined && (sum > 0 ? pH > GOOD_PH.most : sum < 0 && pH < GOOD_PH.least);
  if (pH !== undefined && wrong && rate > SMALL_PUSH * limit)
    found.push({ code: "acidity-wrong-way", pH, rate: sum, from });
  return found;
}

/** Wood ash has a yearly limit of its own. */
function ash({ plan, usedKg, used }: Scene): Finding[] {
  const { areaM2 } = plan.bed;
  if (areaM2 === undefined) return [];
  const from = used.filter((a) => /\bash(es)?\b/i.test(`${a.id.replaceAll("-", " ")} ${a.name}`));
  const rate = from.reduce((sum, a) => sum + usedKg[plan.amendments.indexOf(a)]!, 0) / areaM2;
  const limit = thresholdOf(plan, "wood-ash");
  return above(rate, limit) ? [{ code: "wood-ash", rate, from, limit }] : [];
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
