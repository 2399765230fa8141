/** Cautions in plain words, each with its source and with whom the last word lies. */
import type { BoronGroup, Finding } from "../field/cautions.ts";
import {
  CAUTION_THRESHOLDS,
  type CautionThreshold,
  type ThresholdCode,
} from "../files/caution-thresholds.ts";
import type { Amendment, Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import type { Caution } from "../results/solution.ts";
import { fromSi } from "../units.ts";
import { day as bareDay, grams, grouped, listed, percent, plainNumber, weight } from "./numbers.ts";
import { dateWords, dayWords } from "./own-measures.ts";

const CERTIFIER = "your certifier";
const LABEL = "the label of the bag and local codes";
const ADVICE = "licensed advice and a soil test";
const PRACTICE = "common practice, no source";

/** Three significant digits: no rate in the field is known better. */
function rate(kgPerM2: number, units: Plan["units"]): string {
  const unit = units === "us" ? "lb/acre" : "kg/ha";
  return `${grouped(Number(fromSi(kgPerM2, unit).toPrecision(3)))} ${unit}`;
}

function names(amendments: readonly Amendment[]): string {
  const shown = amendments.map((a) => a.name);
  return shown.length > 5 ? `${shown.slice(0, 4).join(", ")} and ${shown.length - 4} more` : listed(shown);
}

const is = (amendments: readonly Amendment[]): string => (amendments.length === 1 ? "is" : "are");

/** A threshold with its unit: `2 lb/acre`, `120 days`, `50.0%`, `15.0 g`. */
export function thresholdWords(value: number, code: ThresholdCode, units: Plan["units"]): string {
  switch (CAUTION_THRESHOLDS[code].dimension) {
    case "share":
      return percent(value);
    case "time":
      return `${plainNumber(value)} days`;
    case "mass":
      return grams(value * 1000);
    case "rate":
      return rate(value, units);
  }
}

const sourceOf = (code: ThresholdCode): string => (CAUTION_THRESHOLDS[code] as CautionThreshold).source;

interface Words {
  readonly text: string;
  readonly source: string;
  readonly defersTo: string;
}

const TOTAL_WORDS = {
  boron: {
    nutrient: "B",
    why: "A little too much boron harms, and beans bear almost none.",
  },
  copper: { nutrient: "Cu", why: "Copper stays in the soil and builds up." },
  zinc: { nutrient: "Zn", why: "Zinc stays in the soil and builds up." },
  sodium: { nutrient: "Na", why: "Sodium hurts roots and the structure of the soil." },
  chloride: {
    nutrient: "Cl",
    why: "Chloride hurts sensitive crops; potassium chloride may be used on organic land only where it is mined and does not build up (7 CFR 205.602, from memory).",
  },
} as const satisfies Readonly<Record<string, { nutrient: Nutrient; why: string }>>;

/** What a caution is worded with: the units and the dates of its plan. */
interface Wordings {
  readonly units: Plan["units"];
  readonly kg: (value: number) => string;
  /** A day, with its date where the plan has one of planting. */
  readonly day: (value: number) => string;
  readonly planted: string | undefined;
}

type Code = Finding["code"];
type FindingOf<C extends Code, F extends Finding = Finding> = F extends unknown
  ? C extends F["code"]
    ? F
    : never
  : never;
type Wording<C extends Code> = (finding: FindingOf<C>, words: Wordings) => Words;

const inAll = (finding: FindingOf<"copper">, { units }: Wordings): Words => {
  const { nutrient, why } = TOTAL_WORDS[finding.code];
  return {
    text: `${rate(finding.rate, units)} of ${nutrient} in a season, above ${rate(finding.limit, units)}, from ${names(finding.from)}. ${why}`,
    source: sourceOf(finding.code),
    defersTo: ADVICE,
  };
};

/** Every caution in its words. */
const WORDS: { readonly [C in Code]: Wording<C> } = {
  "raw-manure-interval": (finding, { day, planted }) => {
    const { amendment, applications, firstHarvest, touchesSoil, limit } = finding;
    const last = applications.at(-1)!;
    const left = applications.map(
      ({ name, day: spread, intervalDays }) =>
        `on ${bareDay(spread)} (${[dateWords(spread, planted), name].filter((word) => word !== null).join(", ")}) ${intervalDays < 0 ? `comes ${plainNumber(-intervalDays)} days after it` : `leaves ${plainNumber(intervalDays)} days`}`,
    );
    const which = touchesSoil ? "touches the soil" : "does not touch the soil";
    return {
      text: `${amendment.name} is raw manure, the first harvest is on ${day(firstHarvest)}, and a crop that ${which} needs ${plainNumber(limit)} days between: spreading ${listed(left)}. Compost it, spread it earlier, or harvest from ${day(last.day + limit)} on.`,
      source: sourceOf(touchesSoil ? "raw-manure-touching" : "raw-manure-clear"),
      defersTo: `${CERTIFIER} and local food-safety rules`,
    };
  },
  "raw-manure-no-harvest": (finding) => ({
    text: `${names(finding.amendments)} ${is(finding.amendments)} raw manure: dig in 120 days before harvest where the crop touches the soil, 90 days where it does not. Give \`harvest: {first: day 75, touches_soil: false}\` and the days are checked.`,
    source: "7 CFR 205.203(c)(1)",
    defersTo: `${CERTIFIER} and local food-safety rules`,
  }),
  "ammonia-injury": (finding) => {
    const { amendments, load, per, limit } = finding;
    const each = per === "plant" ? "per plant" : "per metre of band";
    return {
      text: `${names(amendments)} next to seeds or roots at planting: ${grams(load * 1000)} of nitrogen ${each}, above ${grams(limit * 1000)}. There it gives off ammonia that kills seeds and young roots. Spread it wide and dig it in, a week or two ahead, or put part of it off.`,
      source: sourceOf("ammonia-injury"),
      defersTo: LABEL,
    };
  },
  "salt-at-planting": (finding, { units }) => {
    const { per, load, limit, from, estimated } = finding;
    const amount = (value: number) =>
      per === "area"
        ? rate(value, units)
        : `${grams(value * 1000)} ${per === "plant" ? "per plant" : "per metre of band"}`;
    const guessed =
      estimated.length > 0
        ? ` The salt index is estimated from potash and ready nitrogen, at its upper end, for ${names(estimated)}.`
        : "";
    return {
      text: `Salt at planting: as much as ${amount(load)} of sodium nitrate (above ${amount(limit)}), most of it from ${names(from)}. Keep it off roots and seed rows, water in, or move part to a later application.${guessed}`,
      source: sourceOf(per === "area" ? "salt-at-planting-area" : "salt-at-planting"),
      defersTo: ADVICE,
    };
  },
  boron: (finding, { units }) => {
    const { group } = finding;
    const crops = {
      sensitive: " for a crop that bears little",
      ordinary: "",
      demanding: " even for a crop that wants it",
    };
    return {
      text: `${rate(finding.rate, units)} of B in a season, above ${rate(finding.limit, units)}${crops[group]}, from ${names(finding.from)}. ${TOTAL_WORDS.boron.why}`,
      source: sourceOf(BORON_LIMITS[group]),
      defersTo: ADVICE,
    };
  },
  "wood-ash": (finding, { units }) => ({
    text: `${names(finding.from)}: ${rate(finding.rate, units)}, above ${rate(finding.limit, units)} a year. Ash raises the pH fast and brings boron; spread it thin, away from seedlings, and not where the pH is 7 or more.`,
    source: sourceOf("wood-ash"),
    defersTo: ADVICE,
  }),
  copper: inAll,
  zinc: inAll,
  sodium: inAll,
  chloride: inAll,
  "area-unknown": (finding) => ({
    text: `The plan gives no area, so ${listed(finding.nutrients)} cannot be held against a rate; a little too much of these harms. Give \`bed: {area: ...}\`.`,
    source: sourceOf("boron"),
    defersTo: ADVICE,
  }),
  "short-between": (finding, { kg, day }) => ({
    text: `Behind the crop: on ${day(finding.day)}, between the days that are checked, ${kg(finding.availableKg)} of ${finding.nutrient} is available where ${kg(finding.needKg)} is needed by then, ${percent(1 - finding.availableKg / finding.needKg)} less. Add \`check_days: [${plainNumber(finding.day)}]\` to the plan to have that day met too, or spread part of it sooner.`,
    source: sourceOf("short-between"),
    defersTo: ADVICE,
  }),
  "nitrogen-left": (finding, { units, kg }) => ({
    text: `Nitrogen stays behind: of ${kg(finding.spreadKg)} spread, ${kg(finding.leftKg)} is not released by the season's end, ${rate(finding.rate, units)} (above ${rate(finding.limit, units)}). It goes on being released, in a wet winter too. Faster sources need less; sow a winter cover and count it next year.`,
    source: sourceOf("nitrogen-left"),
    defersTo: ADVICE,
  }),
  "nitrogen-ahead": (finding, { kg, day }) => ({
    text: `Nitrogen far ahead of the crop: around ${day(finding.day)}, ${kg(finding.aheadKg)} lies available and not taken up, ${percent(finding.share)} of the season's need (above ${percent(finding.limit)}). Split it over more applications, or use slower sources.`,
    source: sourceOf("nitrogen-ahead"),
    defersTo: ADVICE,
  }),
  "heavy-rain": (finding, { units, day }) => ({
    text: `Around ${day(finding.day)} about ${rate(finding.rate, units)} of nitrogen lies in the soil unused. A heavy rain can carry nitrate below the roots, and off a slope; spread after the storm rather than before, dig in, keep back from ditches. \`barrowmix topup\` says what a rain may have taken.`,
    source: sourceOf("heavy-rain"),
    defersTo: "local codes on buffers and slopes",
  }),
  "phosphorus-above-need": (finding, { kg }) => {
    const { appliedKg, againstKg, against, rating } = finding;
    const than = against === "removal" ? "the harvest takes away" : "the plan needs";
    const soil =
      rating === undefined
        ? "That makes sense only where a soil test is low."
        : `The soil is rated ${rating} already.`;
    return {
      text: `Phosphorus piles up: ${kg(appliedKg)} of P2O5 is applied (credits included) where ${than} ${kg(againstKg)}; ${kg(appliedKg - againstKg)} stays in the soil. ${soil} It feeds algae where it washes off, and in excess makes iron and zinc short.`,
      source: sourceOf("phosphorus-above-need"),
      defersTo: ADVICE,
    };
  },
  "phosphorus-without-need": (finding, { units, kg }) => ({
    text: `${kg(finding.appliedKg)} of P2O5 (${rate(finding.rate, units)}) is applied and no need of it is stated; a good crop removes less than ${rate(finding.limit, units)}. Test the soil before adding more.`,
    source: sourceOf("phosphorus-without-need"),
    defersTo: ADVICE,
  }),
  "sodium-nitrate-share": (finding) => ({
    text: `Sodium nitrate brings ${percent(finding.share)} of the crop's nitrogen, above ${percent(finding.limit)}.`,
    source: sourceOf("sodium-nitrate-share"),
    defersTo: CERTIFIER,
  }),
  liming: (finding, { units }) => ({
    text: `${names(finding.from)} ${finding.from.length === 1 ? "acts" : "act"} like ${rate(finding.rate, units)} of limestone (above ${rate(finding.limit, units)}) and raise the pH. Do this only where a soil test asks for lime.`,
    source: sourceOf("liming"),
    defersTo: ADVICE,
  }),
  acidifying: (finding, { units }) => ({
    text: `${names(finding.from)} ${finding.from.length === 1 ? "takes" : "take"} up as much as ${rate(finding.rate, units)} of limestone (above ${rate(finding.limit, units)}) and ${finding.from.length === 1 ? "makes" : "make"} the soil more acid. Do this only where a soil test asks for it, and test again before more.`,
    source: sourceOf("acidifying"),
    defersTo: ADVICE,
  }),
  "acidity-wrong-way": (finding, { units }) => ({
    text: `The soil has a pH of ${plainNumber(finding.pH)}, and ${names(finding.from)} would ${finding.rate > 0 ? "raise" : "lower"} it further, like ${rate(Math.abs(finding.rate), units)} of ${finding.rate > 0 ? "limestone" : "limestone taken away"}. Leave ${finding.from.length === 1 ? "it" : "them"} out with \`exclude\`.`,
    source: "vegetables do best between about pH 6 and 7; common practice, no source",
    defersTo: ADVICE,
  }),
  "surface-loss": (finding) => ({
    text: `${names(finding.amendments)} on the surface: ${percent(finding.share)} of the nitrogen is counted as lost to the air as ammonia. Digging in within a day keeps it.`,
    source:
      "0.9 to 10.5 % of total N in field studies of 28 days (Cassity-Duffey and others 2014, SSSAJ), of which the upper end; 24 to 35 % in boxes (USDA-ARS 2019, Environments 6:96)",
    defersTo: ADVICE,
  }),
  "salt-gathers": (finding, { units }) => {
    const load =
      finding.rate === null
        ? ""
        : `; this mix brings as much as ${rate(finding.rate, units)} of sodium nitrate`;
    return {
      text: `Under ${finding.cover === "tunnel" ? "a tunnel" : "plastic"} no rain washes salt down, so it gathers from season to season${load}. Have the salt (EC) of the soil tested, prefer sources without chloride and sodium, and flush with water between crops.`,
      source:
        "soils of high tunnels show high salts and phosphorus from compost (Fitzgerald and Hutton 2016, NACAA 9(2)); Purdue 2024",
      defersTo: ADVICE,
    };
  },
  "phosphate-needs-acid": (finding) => ({
    text: `The phosphorus of ${names(finding.amendments)} becomes available only in acid soil, below pH 7. The plan does not say how acid its soil is: give \`soil: {pH: 6.4}\`.`,
    source: "a garden guide after Colorado State University; Colorado State University Extension 0.569, 2014",
    defersTo: ADVICE,
  }),
  "threshold-raised": (finding, { units }) => ({
    text: `This plan is warned later than usual: \`${finding.threshold}\` is set to ${thresholdWords(finding.limit, finding.threshold, units)}, the usual is ${thresholdWords(finding.standard, finding.threshold, units)} (${CAUTION_THRESHOLDS[finding.threshold].what}).`,
    source: sourceOf(finding.threshold),
    defersTo: ADVICE,
  }),
  "organic-prohibited": (finding) => ({
    text: `Prohibited on certified organic land: ${names(finding.amendments)}.`,
    source: "7 CFR 205.105; from memory",
    defersTo: CERTIFIER,
  }),
  "organic-restricted": (finding) => ({
    text: `Allowed on organic land only under conditions, such as a deficiency that a test shows: ${names(finding.amendments)}.`,
    source: "7 CFR 205.601(j), 205.602; from memory",
    defersTo: CERTIFIER,
  }),
  "organic-unknown": (finding) => ({
    text: `Organic status not known: ${names(finding.amendments)}. If you are certified, ask your certifier before you buy.`,
    source: "7 CFR 205.105; from memory",
    defersTo: CERTIFIER,
  }),
  "manure-process": (finding) => ({
    text: `${names(finding.amendments)}: free of the raw-manure interval only if composted or heated as the rules say; ask the seller for it in writing.`,
    source: "7 CFR 205.203(c)(2)",
    defersTo: CERTIFIER,
  }),
  "keep-off-plants": (finding) => ({
    text: `Keep what is spread on growing plants (${listed(finding.applications)}) off stems and leaves, and water it in.`,
    source: PRACTICE,
    defersTo: LABEL,
  }),
  silica: (finding) => ({
    text: `${names(finding.amendments)}: the dust may hold silica, which scars lungs. Wear an N95 mask or better, and damp it.`,
    source: "29 CFR 1910.1053, respirable silica at most 0.05 mg/m3; from memory",
    defersTo: "the safety data sheet",
  }),
  dust: () => ({
    text: "Mix outdoors, upwind, with mask, gloves and eye protection; wash hands.",
    source: "29 CFR 1910.1000 Table Z-1, dust at most 15 mg/m3 total and 5 respirable; from memory",
    defersTo: LABEL,
  }),
  pets: (finding) => ({
    text: `Dogs eat ${names(finding.amendments)} and fall ill: keep bags shut, dig in.`,
    source: "veterinary poison-control case note on bone and blood meal",
    defersTo: "a veterinarian",
  }),
  "not-for-sale": () => ({
    text: "For your own beds: a blend that is sold needs registration and a label.",
    source: "state fertilizer laws after the AAPFCO model bill; from memory",
    defersTo: "the fertilizer control office of your state",
  }),
};

/** The codes of all cautions but `last-word`, which goes with every list of them. */
export const CAUTION_CODES = Object.keys(WORDS) as readonly Code[];

function wordsOf({ units, planted }: Plan, finding: Finding): Words {
  const wording = WORDS[finding.code] as (finding: Finding, words: Wordings) => Words;
  return wording(finding, {
    units,
    kg: (value) => weight(value, units),
    day: (value) => dayWords(value, planted),
    planted,
  });
}

const BORON_LIMITS = {
  sensitive: "boron-sensitive",
  ordinary: "boron",
  demanding: "boron-demanding",
} as const satisfies Readonly<Record<BoronGroup, ThresholdCode>>;

/** Cautions by weight: people first, then crop and ground, then rules and papers, last what holds for every mix. */
const RANKS: readonly (readonly string[])[] = [
  ["raw-manure-interval", "silica", "organic-prohibited"],
  [
    "ammonia-injury",
    "salt-at-planting",
    "boron",
    "copper",
    "zinc",
    "sodium",
    "chloride",
    "wood-ash",
    "acidity-wrong-way",
    "liming",
    "acidifying",
    "salt-gathers",
    "raw-manure-no-harvest",
  ],
  [
    "short-between",
    "nitrogen-ahead",
    "heavy-rain",
    "nitrogen-left",
    "phosphorus-above-need",
    "phosphorus-without-need",
    "phosphate-needs-acid",
    "surface-loss",
    "area-unknown",
  ],
  [
    "sodium-nitrate-share",
    "threshold-raised",
    "keep-off-plants",
    "manure-process",
    "organic-restricted",
    "organic-unknown",
  ],
  ["dust", "pets", "not-for-sale", "last-word"],
];

/** 1: the gravest; 5: what holds for every mix. */
export function rankOf(code: string): number {
  const rank = RANKS.findIndex((codes) => codes.includes(code));
  return rank < 0 ? RANKS.length - 1 : rank + 1;
}

/** Place of a caution among all, the gravest at 0; one that has none comes before rules and papers. */
export function gravityOf(code: string): number {
  const place = RANKS.flat().indexOf(code);
  return place < 0 ? RANKS.slice(0, 3).flat().length - 0.5 : place;
}

/** Whether a caution holds for every mix, or nearly. */
export function isForEveryMix(code: string): boolean {
  return rankOf(code) === RANKS.length;
}

/** Findings as notices, the gravest first, and with whom the last word lies. */
export function cautionNotices(plan: Plan, findings: readonly Finding[]): Caution[] {
  if (findings.length === 0) return [];
  return [
    ...findings
      .map(
        (finding): Caution => ({
          code: finding.code,
          rank: rankOf(finding.code),
          ...wordsOf(plan, finding),
        }),
      )
      .sort((a, b) => (a.rank ?? 0) - (b.rank ?? 0)),
    {
      code: "last-word",
      rank: rankOf("last-word"),
      text: "The label, local codes, your certifier and licensed advice come before these cautions.",
      source: PRACTICE,
      defersTo: LABEL,
    },
  ];
}
