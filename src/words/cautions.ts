/**
 * What could do harm in a mix as it is spread, in plain words: found by comparing amounts with the thresholds, each with
 * its source and with whom the last word lies. None of these says that a mix is safe: they defer to the label, local
 * codes, the certifier and licensed advice.
 */
import { limingKg, limingOf } from "../field/acidity.ts";
import { ammoniaLoad, BURN_DAYS, HOLES, saltIndexOf, saltLoad, unplaced, wideSaltKg } from "../field/burn.ts";
import { type Amounts, appliedKg, suppliedKg, totalsKg } from "../field/delivery.ts";
import { CAUTION_THRESHOLDS, type ThresholdCode } from "../files/caution-thresholds.ts";
import { phosphateOf, phosphorusLevel } from "../files/soil.ts";
import { type Amendment, type Application, type Demand, type Plan, wholeBed } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import type { Caution } from "../results/solution.ts";
import { isManure, type Season, SURFACE_LOSS, takenUpKg, wouldTakeUpKg } from "../season/season.ts";
import {
  above,
  names,
  rateWords,
  type Said,
  type Scene,
  SLACK,
  said,
  thresholdOf,
  thresholdWords,
  whereAbove,
  whereAny,
} from "./caution-scene.ts";
import { CAUTIONS, sourceOf } from "./caution-table.ts";
import { HAZARDS, isOnSurface, touchesSoil } from "./hazards.ts";
import { day as bareDay, counted, grams, listed, percent, plainNumber, weight } from "./numbers.ts";
import { dateWords, dayWords } from "./own-measures.ts";

/**
 * Everything worth a caution in amounts as a plan spreads them, the gravest first, and with whom the last word lies; none
 * where there is nothing to say.
 * @param amounts kg of each of the plan's amendments in each of its applications.
 */
export function cautionsOf(plan: Plan, season: Season, amounts: Amounts): Caution[] {
  const usedKg = totalsKg(amounts);
  const used = plan.amendments.filter((_, a) => usedKg[a]! > 0);
  const { areaM2 = Infinity } = wholeBed(plan.bed);
  const scene: Scene = {
    plan,
    season,
    amounts,
    used,
    kgOf: (share) => plan.amendments.reduce((sum, amendment, a) => sum + usedKg[a]! * share(amendment), 0),
    rounds: (amendments = used) =>
      plan.applications.filter((_, t) =>
        amendments.some((amendment) => amounts[plan.amendments.indexOf(amendment)]![t]! > 0),
      ),
    perM2: (kg) => kg / areaM2,
    rate: (kgPerM2) => rateWords(kgPerM2, plan.units),
    kg: (value) => weight(value, plan.units),
    day: (value) => dayWords(value, plan.planted),
  };
  const found = (used.length === 0 ? [raisedThresholds] : RULES).flatMap((rule) => rule(scene));
  if (found.length === 0) return [];
  const lastWord = "The label, local codes, your certifier and licensed advice come before these cautions.";
  return [...found, ...said("last-word", lastWord)]
    .map(({ code, text, source }) => {
      const { rank, defersTo } = CAUTIONS[code];
      return { code, rank, text, source, defersTo };
    })
    .sort((a, b) => a.rank - b.rank);
}

function rawManure({ plan, used, rounds, day }: Scene): Said[] {
  const raw = used.filter((a) => a.kind === "manure-raw");
  const { harvest, planted } = plan;
  if (!harvest)
    return whereAny(
      raw,
      "raw-manure-no-harvest",
      (them) =>
        `${them} ${raw.length === 1 ? "is" : "are"} raw manure: dig in 120 days before harvest where the crop touches the soil, 90 days where it does not. Give \`harvest: {first: day 75, touches_soil: false}\` and the days are checked.`,
    );
  const { firstDay } = harvest;
  const touches = touchesSoil(plan);
  const which = touches ? "touches the soil" : "does not touch the soil";
  const limit = thresholdOf(plan, touches ? "raw-manure-touching" : "raw-manure-clear");
  return raw.flatMap((amendment) => {
    const close = rounds([amendment]).filter(({ day }) => firstDay - day < limit);
    if (close.length === 0) return [];
    const left = close.map(({ name, day }) => {
      const called = [dateWords(day, planted), name].filter((word) => word !== null).join(", ");
      const days = firstDay - day;
      return `on ${bareDay(day)} (${called}) ${days < 0 ? `comes ${plainNumber(-days)} days after it` : `leaves ${plainNumber(days)} days`}`;
    });
    const text = `${amendment.name} is raw manure, the first harvest is on ${day(firstDay)}, and a crop that ${which} needs ${plainNumber(limit)} days between: spreading ${listed(left)}. Compost it, spread it earlier, or harvest from ${day(close.at(-1)!.day + limit)} on.`;
    return said("raw-manure-interval", text);
  });
}

/** A limit that a figure is above; where both read the same when rounded, by how little. */
const over = (show: (value: number) => string, figure: number, limit: number): string =>
  `${show(figure) === show(limit) ? "just above" : "above"} ${show(limit)}`;

const PER_SPOT = { plant: "per plant", metre: "per metre of band" } as const;

/** Where a load lies: next to seeds and roots before and at planting, next to growing roots after it. */
const nextTo = (application: Application, day: Scene["day"]): string =>
  application.day > 0
    ? `next to the roots of growing plants on ${day(application.day)}`
    : "next to seeds or roots at planting";

function ammonia({ plan, amounts, day }: Scene): Said[] {
  const found = ammoniaLoad(plan, amounts);
  if (!found) return [];
  const { load, per, from, application } = found;
  const limit = thresholdOf(plan, "ammonia-injury") * HOLES[per];
  if (!above(load, limit)) return [];
  const way =
    application.day > 0
      ? "Spread it wide between the rows and scratch it in, or split it over more rounds."
      : `Spread it wide and dig it in, put it down more than ${BURN_DAYS / 7} weeks ahead (ammonia is at its height some nine days after), or put part of it off.`;
  const text = `${names(from)} ${nextTo(application, day)}: ${grams(load * 1000)} of nitrogen ${PER_SPOT[per]}, ${over((g) => grams(g * 1000), load, limit)}. There it gives off ammonia that kills seeds and young roots. ${way}`;
  return said("ammonia-injury", text);
}

/** A bed in rows whose rounds may go along them or wide: asked about where a band would burn. */
function placementUnknown({ plan, amounts }: Scene): Said[] {
  const ammonia = ammoniaLoad(plan, amounts, "band");
  const salt = saltLoad(plan, amounts, "band");
  const asked = unplaced(plan).map(({ name }) => name);
  const parts = [
    ...(ammonia && above(ammonia.load, thresholdOf(plan, "ammonia-injury") * HOLES[ammonia.per])
      ? [`${grams(ammonia.load * 1000)} of nitrogen ${PER_SPOT[ammonia.per]}`]
      : []),
    ...(salt && above(salt.load, thresholdOf(plan, "salt-at-planting") * HOLES[salt.per])
      ? [`salt like ${grams(salt.load * 1000)} of sodium nitrate ${PER_SPOT[salt.per]}`]
      : []),
  ];
  if (parts.length === 0) return [];
  const text = `The bed is in rows, and the plan does not say where ${listed(asked)} ${asked.length === 1 ? "goes" : "go"}. In a band along the rows it would be too much next to roots: ${listed(parts)}. Spread it over the whole bed and say \`placement: broadcast\`, or say \`placement: band\`.`;
  return said("placement-unknown", text);
}

function salt({ plan, amounts, perM2, rate, day }: Scene): Said[] {
  const report = (
    where: string,
    load: number,
    limit: number,
    from: readonly Amendment[],
    amount: (load: number) => string,
  ): Said[] => {
    if (!above(load, limit)) return [];
    const estimated = from.filter((a) => a.saltIndex === undefined);
    const guessed =
      estimated.length > 0
        ? ` The salt index is estimated from potash and ready nitrogen, at its upper end, for ${names(estimated)}.`
        : "";
    const text = `Salt ${where}: as much as ${amount(load)} of sodium nitrate (${over(amount, load, limit)}), most of it from ${names(from.slice(0, 3))}. Keep it off roots and seed rows, water in, or move part to a later application.${guessed}`;
    return said("salt-at-planting", text);
  };
  const near = saltLoad(plan, amounts);
  const found = near
    ? report(
        near.application.day > 0 ? `next to growing plants on ${day(near.application.day)}` : "at planting",
        near.load,
        thresholdOf(plan, "salt-at-planting") * HOLES[near.per],
        near.from,
        (load) => `${grams(load * 1000)} ${PER_SPOT[near.per]}`,
      )
    : [];
  const wide = wideSaltKg(plan, amounts);
  const limit = thresholdOf(plan, "salt-at-planting-area");
  return [...found, ...report("at planting", perM2(wide.kg), limit, wide.from, rate)];
}

/** Under plastic or a tunnel no rain carries salt down. */
function cover({ plan, kgOf, perM2, rate }: Scene): Said[] {
  if (plan.cover === undefined || plan.cover === "open") return [];
  const kg = kgOf((amendment) => saltIndexOf(amendment) / 100);
  const load =
    plan.bed.areaM2 === undefined ? "" : `; this mix brings as much as ${rate(perM2(kg))} of sodium nitrate`;
  const text = `Under ${plan.cover === "tunnel" ? "a tunnel" : "plastic"} no rain washes salt down, so it gathers from season to season${load}. Have the salt (EC) of the soil tested, prefer sources without chloride and sodium, and flush with water between crops.`;
  return said("salt-gathers", text);
}

function surface({ used, rounds }: Scene): Said[] {
  return whereAny(
    used.filter((a) => isManure(a.kind) && rounds([a]).some(isOnSurface)),
    "surface-loss",
    (them) =>
      `${them} on the surface: ${percent(SURFACE_LOSS)} of the nitrogen is counted as lost to the air as ammonia. Digging in within a day keeps it.`,
  );
}

/** Phosphorus of bone and rock, where the plan does not say how acid its soil is. */
function acidNeeded({ plan, used }: Scene): Said[] {
  if (plan.soil?.pH !== undefined || needOf(plan, "P2O5") <= 0) return [];
  return whereAny(
    used.filter((a) => phosphateOf(a) !== undefined),
    "phosphate-needs-acid",
    (them) =>
      `The phosphorus of ${them} becomes available only in acid soil, below pH 7. The plan does not say how acid its soil is: give \`soil: {pH: 6.4}\`.`,
  );
}

const needOf = (plan: Plan, nutrient: Nutrient): number =>
  plan.demands.find((d) => d.nutrient === nutrient)?.minKg ?? 0;

const BORON = {
  sensitive: { threshold: "boron-sensitive", crops: " for a crop that bears little" },
  ordinary: { threshold: "boron", crops: "" },
  demanding: { threshold: "boron-demanding", crops: " even for a crop that wants it" },
} as const;

/**
 * The boron group of a crop by its name. Demanding: 1.5 to 3 lb/acre on broccoli, kale and cole crops (University of
 * Delaware, 2012), beets and celery with them from memory. Sensitive: yields of beans fell at 4.4 kg/ha at two of four
 * sites (Prince Edward Island); peas and strawberries with them from memory.
 */
function boronGroup(crop: string): (typeof BORON)[keyof typeof BORON] {
  const name = crop.toLowerCase();
  if (/\b(beans?|peas?|cowpeas?|strawberr)/.test(name)) return BORON.sensitive;
  const demanding =
    /broccoli|cabbage|cauliflower|kale|collard|brussels|kohlrabi|turnip|rutabaga|radish|beet|chard|celer/;
  return demanding.test(name) ? BORON.demanding : BORON.ordinary;
}

/** Nutrients of which a season's whole load is held against a rate. */
const TOTALS = [
  { code: "boron", nutrient: "B", why: "A little too much boron harms, and beans bear almost none." },
  {
    code: "copper",
    nutrient: "Cu",
    why: "Copper stays in the soil and builds up over the years: add up what was spread and stop at 30 lb/acre (34 kg/ha) in all.",
  },
  { code: "zinc", nutrient: "Zn", why: "Zinc stays in the soil and builds up." },
  { code: "sodium", nutrient: "Na", why: "Sodium hurts roots and the structure of the soil." },
  {
    code: "chloride",
    nutrient: "Cl",
    why: "Chloride hurts sensitive crops; potassium chloride may be used on organic land only where it is mined and does not build up (7 CFR 205.602, from memory).",
  },
] as const;

/** What a rate would be needed for where a bed has plants but no area: more than a trace of a trace element. */
const TRACES = ["B", "Cu", "Zn"] as const;
const TRACE_SOURCE = 0.01;

function totals({ plan, amounts, used, perM2, rate }: Scene): Said[] {
  if (plan.bed.areaM2 === undefined) {
    const traces = TRACES.filter((nutrient) => used.some((a) => (a.analysis[nutrient] ?? 0) >= TRACE_SOURCE));
    if (traces.length === 0) return [];
    const text = `The plan gives no area, so ${listed(traces)} cannot be held against a rate; a little too much of these harms. Give \`bed: {area: ...}\`.`;
    return said("area-unknown", text);
  }
  return TOTALS.flatMap(({ code, nutrient, why }) => {
    const { threshold, crops } =
      code === "boron" ? boronGroup(plan.targetName) : { threshold: code, crops: "" };
    // A plan's own threshold of boron is for its crop, whatever that is.
    const limit = plan.thresholds?.[code] ?? thresholdOf(plan, threshold);
    const spread = perM2(appliedKg(plan, amounts, nutrient));
    if (!above(spread, limit)) return [];
    const from = used.filter((a) => (a.analysis[nutrient] ?? 0) > 0);
    const text = `${rate(spread)} of ${nutrient} in a season, ${over(rate, spread, limit)}${crops}, from ${names(from)}. ${why}`;
    return said(code, text, sourceOf(threshold));
  });
}

const LOOK_EVERY_DAYS = 7;

function weeklyLooks({ applications, seasonDays }: Plan): number[] {
  const days: number[] = [];
  for (let day = applications[0]!.day + LOOK_EVERY_DAYS; day < seasonDays; day += LOOK_EVERY_DAYS)
    days.push(day);
  return days;
}

/** The most nitrogen that lies available and not taken up, and when. Without a curve uptake is taken as even. */
function mostUnused({ plan, season, amounts }: Scene, demand: Demand): { kg: number; day: number } {
  const taken = (day: number): number => wouldTakeUpKg(plan, demand, day);
  const days = new Set([
    ...plan.applications.map((a) => Math.min(a.day + 1, plan.seasonDays)),
    ...weeklyLooks(plan),
    ...season.checkpoints,
  ]);
  let most = { kg: 0, day: plan.applications[0]!.day };
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
function shortBetween({ plan, season, amounts, kg, day: dayText }: Scene): Said[] {
  const limit = thresholdOf(plan, "short-between");
  const first = plan.applications[0]!.day;
  const short = plan.demands.flatMap((demand) => {
    const { nutrient, minKg, uptake } = demand;
    if (!uptake) return [];
    const balanceOn = (day: number) => ({
      nutrient,
      day,
      needKg: takenUpKg(demand, day),
      availableKg: suppliedKg(plan, season, amounts, nutrient, day),
    });
    const isShort = ({ needKg, availableKg }: ReturnType<typeof balanceOn>) =>
      needKg > 0 && above((needKg - availableKg) / needKg, limit);
    // Where a checked day is missed, that is told already.
    if (season.checkpoints.some((day) => isShort(balanceOn(day)))) return [];
    return [...weeklyLooks(plan), ...uptake.map(([day]) => day)]
      .filter((day) => day > first && day < plan.seasonDays && !season.checkpoints.includes(day))
      .map(balanceOn)
      .filter((balance) => balance.needKg >= TELLING_SHARE * minKg && isShort(balance))
      .map((balance) => ({ ...balance, ofSeason: (balance.needKg - balance.availableKg) / minKg }));
  });
  const [worst] = short.sort((a, b) => b.ofSeason - a.ofSeason);
  if (!worst) return [];
  const { nutrient, day, needKg, availableKg } = worst;
  const text = `Behind the crop: on ${dayText(day)}, between the days that are checked, ${kg(availableKg)} of ${nutrient} is available where ${kg(needKg)} is needed by then, ${percent(1 - availableKg / needKg)} less. Add \`check_days: [${plainNumber(day)}]\` to the plan to have that day met too, or spread part of it sooner.`;
  return said("short-between", text);
}

function broughtKg({ plan, season, amounts }: Scene, nutrient: Nutrient): number {
  return appliedKg(plan, amounts, nutrient) + season.creditInAllKg(nutrient);
}

function nitrogenLeft(scene: Scene): Said[] {
  const { plan, season, amounts, perM2, rate, kg } = scene;
  const spreadKg = broughtKg(scene, "N");
  const leftKg = spreadKg - suppliedKg(plan, season, amounts, "N", plan.seasonDays);
  return whereAbove(
    scene,
    "nitrogen-left",
    perM2(leftKg),
    (limit) =>
      `Nitrogen stays behind: of ${kg(spreadKg)} spread, ${kg(leftKg)} is not released by the season's end, ${rate(perM2(leftKg))} (${over(rate, perM2(leftKg), limit)}). It goes on being released, in a wet winter too. Faster sources need less; sow a winter cover and count it next year.`,
  );
}

function nitrogenUnused(scene: Scene): Said[] {
  const { plan, perM2, rate, kg: kgText, day: dayText } = scene;
  const demand = plan.demands.find((d) => d.nutrient === "N");
  // What no need is stated for cannot be ahead of it.
  if (!demand || demand.minKg <= 0) return [];
  const { kg, day } = mostUnused(scene, demand);
  const share = kg / demand.minKg;
  const ahead = (limit: number) =>
    `Nitrogen far ahead of the crop: around ${dayText(day)}, ${kgText(kg)} lies available and not taken up, ${percent(share)} of the season's need (${over(percent, share, limit)}). Split it over more applications, or use slower sources.`;
  const rained = () =>
    `Around ${dayText(day)} about ${kgText(kg)} of nitrogen (${rate(perM2(kg))}) lies unused, and a heavy rain can wash it below the roots: spread after a storm, not before. Dig in, keep back from ditches. \`barrowmix now\` says what a rain may have taken.`;
  const isOpen = plan.cover === undefined || plan.cover === "open";
  return [
    ...(demand.uptake ? whereAbove(scene, "nitrogen-ahead", share, ahead) : []),
    ...(isOpen ? whereAbove(scene, "heavy-rain", perM2(kg), rained) : []),
  ];
}

/**
 * Phosphorus is said aloud where it piles up: against what leaves with the harvest, or where that is not known against the
 * need; at any surplus on soil that has too much already, never on soil that is poor.
 */
function phosphorus(scene: Scene): Said[] {
  const { plan, perM2, rate, kg } = scene;
  const rating = plan.soil?.pRating;
  const level = phosphorusLevel(rating);
  if (level === "below") return [];
  const applied = broughtKg(scene, "P2O5");
  const needKg = needOf(plan, "P2O5");
  const removalKg = plan.removalKg?.P2O5 ?? 0;
  const againstKg = Math.max(needKg, removalKg);
  if (againstKg === 0)
    return whereAbove(
      scene,
      "phosphorus-without-need",
      perM2(applied),
      (limit) =>
        `${kg(applied)} of P2O5 (${rate(perM2(applied))}) is applied and no need of it is stated; a good crop removes less than ${rate(limit)}. Test the soil before adding more.`,
    );
  const limit = level === "above" ? 1 : thresholdOf(plan, "phosphorus-above-need");
  if (!above(applied / againstKg, limit)) return [];
  const than = removalKg > needKg ? "the harvest takes away" : "the plan needs";
  const soil =
    rating === undefined
      ? "fine only where the soil tests low in phosphorus"
      : `the soil is rated ${rating} already`;
  const text = `Phosphorus builds up: ${kg(applied - againstKg)} of P2O5 more than ${than}; ${soil}. ${kg(applied)} is applied, credits included, against ${kg(againstKg)}. It feeds algae where it washes off, and in excess makes iron and zinc short.`;
  return said("phosphorus-above-need", text);
}

/** Sodium nitrate holds 16 % N with 27 % Na; nothing else on sale comes near. */
const isSodiumNitrate = ({ analysis }: Amendment): boolean =>
  (analysis.N ?? 0) >= 0.1 && (analysis.Na ?? 0) >= 0.15;

function sodiumNitrate(scene: Scene): Said[] {
  const needKg = needOf(scene.plan, "N");
  if (needKg <= 0) return [];
  const share = scene.kgOf((one) => (isSodiumNitrate(one) ? (one.analysis.N ?? 0) : 0)) / needKg;
  return whereAbove(
    scene,
    "sodium-nitrate-share",
    share,
    (limit) =>
      `Sodium nitrate brings ${percent(share)} of the crop's nitrogen, ${over(percent, share, limit)}.`,
  );
}

/** Neutral enough that a push either way is no fault. */
const GOOD_PH = { least: 6, most: 7 } as const;
/** Below this part of the threshold a push is not worth a word. */
const SMALL_PUSH = 0.1;

function acidity(scene: Scene): Said[] {
  const { plan, amounts, used, perM2, rate } = scene;
  const limestone = perM2(limingKg(plan, amounts));
  const isLime = limestone >= 0;
  const push = Math.abs(limestone);
  const from = used.filter((a) => (isLime ? limingOf(a) > 0 : limingOf(a) < 0));
  const by = (one: string, many: string) => (from.length === 1 ? one : many);
  const code = isLime ? "liming" : "acidifying";
  const found = whereAbove(scene, code, push, (limit) =>
    isLime
      ? `${names(from)} ${by("acts", "act")} like ${rate(push)} of limestone (${over(rate, push, limit)}) and raise the pH. Do this only where a soil test asks for lime.`
      : `${names(from)} ${by("takes", "take")} up as much as ${rate(push)} of limestone (${over(rate, push, limit)}) and ${by("makes", "make")} the soil more acid. Do this only where a soil test asks for it, and test again before more.`,
  );
  const pH = plan.soil?.pH;
  if (pH === undefined || !(isLime ? pH > GOOD_PH.most : pH < GOOD_PH.least)) return found;
  if (push <= SMALL_PUSH * thresholdOf(plan, code)) return found;
  const wrongWay = `The soil has a pH of ${plainNumber(pH)}, and ${names(from)} would ${isLime ? "raise" : "lower"} it further, like ${rate(push)} of ${isLime ? "limestone" : "limestone taken away"}. Leave ${by("it", "them")} out with \`exclude\`.`;
  return [...found, ...said("acidity-wrong-way", wrongWay)];
}

function ash(scene: Scene): Said[] {
  const { used, kgOf, perM2, rate } = scene;
  const from = used.filter((a) => /\bash(es)?\b/i.test(`${a.id.replaceAll("-", " ")} ${a.name}`));
  const spread = perM2(kgOf((amendment) => (from.includes(amendment) ? 1 : 0)));
  return whereAbove(
    scene,
    "wood-ash",
    spread,
    (limit) =>
      `${names(from)}: ${rate(spread)}, ${over(rate, spread, limit)} a year. Ash raises the pH fast and brings boron; spread it thin, away from seedlings, and not where the pH is 7 or more.`,
  );
}

function raisedThresholds({ plan }: Scene): Said[] {
  return (Object.keys(CAUTION_THRESHOLDS) as ThresholdCode[]).flatMap((threshold) => {
    const limit = plan.thresholds?.[threshold];
    const { value, stricter, what } = CAUTION_THRESHOLDS[threshold];
    if (limit === undefined || !(stricter === "lower" ? limit > value : limit < value)) return [];
    const words = (figure: number) => thresholdWords(figure, threshold, plan.units);
    const text = `This plan is warned later than usual: \`${threshold}\` is set to ${words(limit)}, the usual is ${words(value)} (${what}).`;
    return said("threshold-raised", text, sourceOf(threshold));
  });
}

/** How unevenly a round is spread from plant to plant, and how far below the mean one plant in ten lies. */
const UNEVEN = 0.15;
const ONE_IN_TEN = 1.2816;

/** How sure a need is met is worked for the bed as a whole. */
function plantsDiffer({ plan, rounds }: Scene): Said[] {
  if (plan.sure === undefined) return [];
  const count = rounds().length;
  const less = percent((ONE_IN_TEN * UNEVEN) / Math.sqrt(count));
  const text = `How sure a need is met is said of the bed as a whole. Plants differ: spread in ${counted(count, "round")} with the usual unevenness (15% a round), one plant in ten gets ${less} less than the bed's mean, or less still.`;
  return said("plants-differ", text);
}

function handling({ used, rounds }: Scene): Said[] {
  const later = rounds().filter(({ day }) => day > 0);
  const offPlants = `Keep what is spread on growing plants (${listed(later.map(({ name }) => name))}) off stems and leaves, and water it in.`;
  const notForSale = "For your own beds: a blend that is sold needs registration and a label.";
  return [
    ...(later.length > 0 ? said("keep-off-plants", offPlants) : []),
    ...(used.length > 1 ? said("not-for-sale", notForSale) : []),
  ];
}

/** Every rule, specific harm first: cautions of one rank keep this order. */
const RULES: readonly ((scene: Scene) => Said[])[] = [
  rawManure,
  ammonia,
  salt,
  placementUnknown,
  totals,
  shortBetween,
  nitrogenLeft,
  nitrogenUnused,
  phosphorus,
  sodiumNitrate,
  acidity,
  ash,
  cover,
  surface,
  acidNeeded,
  raisedThresholds,
  plantsDiffer,
  ...HAZARDS,
  handling,
];
