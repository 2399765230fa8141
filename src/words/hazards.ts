/**
 * Cautions that follow from what a material is, what the crop is and how the ground lies, however much is in the mix; and
 * from the salt of the soil.
 */
import { givesAmmonia, saltIndexOf } from "../field/burn.ts";
import { lostKg, suppliedKg } from "../field/delivery.ts";
import { phosphateOf } from "../files/soil.ts";
import type { Amendment, Application, Plan } from "../model.ts";
import { interpolate } from "../season/curve.ts";
import { isManure, takenUpKg } from "../season/season.ts";
import { type Said, type Scene, said, thresholdOf, whereAny } from "./caution-scene.ts";
import type { CautionCode } from "./caution-table.ts";
import { grams, listed, percent, plainNumber } from "./numbers.ts";

/** Crops whose harvest lies in or on the soil, whatever the plan's flag says: roots, tubers, bulbs, leaves, fruit on the ground. */
const LOW_CROPS =
  /carrot|\bbeets?\b|beetroot|potato|onion|garlic|leek|shallot|radish|turnip|rutabaga|parsnip|celery|celeriac|lettuce|spinach|\bchard\b|kale|collard|cabbage|arugula|salad|greens|strawberr|squash|melon|cucumber|pumpkin/i;

/** Whether the harvested part touches the soil: by the plan's flag, and by the crop where its harvest cannot help it. */
export function touchesSoil({ harvest, targetName }: Plan): boolean {
  return harvest?.touchesSoil !== false || LOW_CROPS.test(targetName);
}

/** Whether a word is in a material's id or in its name; never across the two. */
const called = ({ id, name }: Amendment, words: RegExp): boolean =>
  words.test(id.replaceAll("-", " ")) || words.test(name.replaceAll("-", " "));

const DUSTY: ReadonlySet<Amendment["kind"]> = new Set([
  "animal",
  "plant",
  "mineral",
  "compost",
  "manure-processed",
]);
const SILICA_ROCK = /greensand|granite|basalt|rock (dust|phosphate)/i;

function materials({ used }: Scene): Said[] {
  const of = (code: CautionCode, which: (amendment: Amendment) => boolean, text: (names: string) => string) =>
    whereAny(used.filter(which), code, text);
  return [
    ...of(
      "manure-pathogens",
      ({ kind }) => kind === "manure-raw",
      (them) =>
        `${them} can carry germs that make people ill: keep it off what is eaten, off wells and paths, keep children away, and wash hands and tools.`,
    ),
    ...of(
      "organic-prohibited",
      ({ organic }) => organic === "prohibited",
      (them) => `Prohibited on certified organic land: ${them}.`,
    ),
    ...of(
      "organic-restricted",
      ({ organic }) => organic === "restricted",
      (them) =>
        `Allowed on organic land only under conditions, such as a deficiency that a test shows: ${them}.`,
    ),
    ...of(
      "organic-unknown",
      ({ organic }) => organic === "unknown",
      (them) => `Organic status not known: ${them}. If you are certified, ask your certifier before you buy.`,
    ),
    ...of(
      "manure-process",
      ({ kind }) => kind === "manure-processed" || kind === "compost",
      (them) =>
        `${them}: free of the raw-manure interval only if composted or heated as the rules say; ask the seller for it in writing.`,
    ),
    ...of(
      "herbicide-carry-over",
      (a) =>
        a.kind === "manure-raw" ||
        a.kind === "compost" ||
        (isManure(a.kind) && !called(a, /poultry|chicken|turkey|hen|guano|cricket|insect|worm/i)),
      (them) =>
        `${them} may hold weed killer from hay and straw that animals ate, and it lasts through composting. Ask where it is from, and grow a few beans in it first.`,
    ),
    ...of(
      "gluten-seeds",
      (a) => called(a, /gluten/i),
      (them) => `${them} keeps seeds from rooting: not on a seeded bed, and six weeks ahead of sowing.`,
    ),
    ...of(
      "silica",
      (a) => a.kind !== "animal" && a.kind !== "plant" && called(a, SILICA_ROCK),
      (them) =>
        `${them}: the dust may hold silica, which scars lungs. Wear an N95 mask or better, and damp it.`,
    ),
    ...of(
      "dust",
      ({ kind }) => DUSTY.has(kind),
      () => "Mix outdoors, upwind, with mask, gloves and eye protection; wash hands.",
    ),
    ...of(
      "pets-poison",
      (a) => called(a, /cocoa|castor/i),
      (them) => `${them} can poison dogs: keep them off, and do not use it where they run.`,
    ),
    ...of(
      "pets",
      (a) => a.kind === "animal" || called(a, /guano/i),
      (them) => `Dogs eat ${them} and fall ill: keep bags shut, dig in.`,
    ),
  ];
}

const FIXING_PH = 7.5;
/** From this much of it a material is a source of iron or manganese. */
const SOURCE_OF = 0.05;

function ironFixed({ plan, used }: Scene): Said[] {
  const pH = plan.soil?.pH;
  if (pH === undefined || !(pH > FIXING_PH)) return [];
  const isSource = (a: Amendment): boolean =>
    ((a.analysis.Fe ?? 0) >= SOURCE_OF || (a.analysis.Mn ?? 0) >= SOURCE_OF) && (a.analysis.S ?? 0) > 0;
  return whereAny(
    used.filter(isSource),
    "iron-fixed",
    (them) =>
      `At pH ${plainNumber(pH)} the iron and manganese of ${them} turn to what plants cannot take up within days. A chelate, or a spray on the leaves, reaches the crop.`,
  );
}

/** 10 ppm of cadmium for each percent of P2O5: what state fertilizer officials allow. */
const CADMIUM_PER_P2O5 = 10e-6 / 0.01;

function cadmium({ used, kgOf }: Scene): Said[] {
  const rocks = used.filter((a) => phosphateOf(a) === "rock");
  const cadmiumKg = CADMIUM_PER_P2O5 * kgOf((a) => (phosphateOf(a) === "rock" ? (a.analysis.P2O5 ?? 0) : 0));
  return whereAny(
    rocks,
    "cadmium",
    (them) =>
      `${them} may bring up to ${grams(cadmiumKg * 1000)} of cadmium (10 ppm for each percent of P2O5 is allowed), which stays in the soil and goes into leaves and roots. Ask the seller for its analysis, and do not use it year after year.`,
  );
}

const namesOfRounds = (rounds: readonly Application[]): string => listed(rounds.map(({ name }) => name));

function underPlastic({ plan, rounds }: Scene): Said[] {
  const later = rounds().filter(({ day }) => day > 0);
  if (plan.cover !== "plastic" || later.length === 0) return [];
  const text = `The bed is under plastic, and ${namesOfRounds(later)} ${later.length === 1 ? "comes" : "come"} after it is laid. What is spread on plastic feeds nothing: put it all down before, lift the edges, or open the plant holes.`;
  return said("under-plastic", text);
}

/** Soil that is colder than this, in C, is taken for frozen. */
const FROZEN_C = 1;

function frozenGround({ plan: { soilTemperatureC }, rounds }: Scene): Said[] {
  if (soilTemperatureC === undefined) return [];
  const frozen = rounds().filter(({ day }) => interpolate(soilTemperatureC, day) < FROZEN_C);
  if (frozen.length === 0) return [];
  const text = `The soil is frozen or nearly so for ${namesOfRounds(frozen)}: what is spread on it washes off with the thaw. Wait until the ground takes it up.`;
  return said("frozen-ground", text);
}

export const isOnSurface = ({ placement }: Application): boolean => placement === "surface";

/** Nitrogen of urea and rich meals that is left on the surface; what manures lose is counted. */
function surfaceLeft({ used, rounds }: Scene): Said[] {
  return whereAny(
    used.filter((a) => !isManure(a.kind) && givesAmmonia(a) && rounds([a]).some(isOnSurface)),
    "surface-left",
    (them) =>
      `${them} on the surface loses nitrogen to the air as well, urea a fifth and more in warm weather, and none of that is counted here. Scratch it in or water it in the same day.`,
  );
}

function appliedUnavailable({ plan, season, amounts, kg }: Scene): Said[] {
  const limit = thresholdOf(plan, "applied-unavailable");
  return plan.demands.flatMap(({ nutrient, minKg, counts }) => {
    if (counts !== "applied" || !(minKg > 0)) return [];
    const availableKg = suppliedKg(plan, season, amounts, nutrient, plan.seasonDays);
    if (availableKg >= limit * minKg) return [];
    const text = `Of the ${kg(minKg)} of ${nutrient} that is asked for as it is spread, only ${kg(Math.max(0, availableKg))} becomes available in the season. A table's rate means soluble sources: use one, or ask for \`counts: available\`.`;
    return said("applied-unavailable", text);
  });
}

/** From this length on a crop of a season that rises late stands over winter. */
const LONG_DAYS = 180;
const HARDLY = 0.2;
/** Nitrogen in autumn above this share of the need is much. */
const MUCH = 0.4;

function autumnNitrogen({ plan, season, amounts, kg, day: dayText }: Scene): Said[] {
  const demand = plan.demands.find(({ nutrient }) => nutrient === "N");
  if (!demand?.uptake || demand.minKg <= 0 || plan.seasonDays < LONG_DAYS) return [];
  if (plan.cover !== undefined && plan.cover !== "open") return [];
  const late = [...demand.uptake].reverse().find(([, share]) => share <= HARDLY);
  if (late === undefined || late[0] < LONG_DAYS / 2) return [];
  const [day] = late;
  const lies = suppliedKg(plan, season, amounts, "N", day) - takenUpKg(demand, day);
  if (lies <= MUCH * demand.minKg) return [];
  const expected = plan.drainage ?? [];
  const counted =
    expected.length === 0
      ? "none of that is counted here; `drainage: [{day: 160, depth: 10 in}]` counts it"
      : `the ${kg(lostKg(plan, season, amounts, plan.seasonDays))} that the expected drainage takes are counted`;
  const text = `Nitrogen through the winter: around ${dayText(day)}, before the crop begins to feed, ${kg(lies)} lies in the soil, ${percent(lies / demand.minKg)} of the season's need. Winter rain carries much of it away; ${counted}. Give a part at planting and most of it in spring.`;
  return said("autumn-nitrogen", text);
}

/** Yield by the salt of the soil: whole up to `bears` dS/m, then less by `perUnit` percent for each. FAO 29, from memory. */
const SALT_CROPS: readonly (readonly [crop: RegExp, bears: number, perUnit: number])[] = [
  [/tomato/i, 2.5, 9.9],
  [/\bbeans?\b/i, 1, 19],
  [/lettuce/i, 1.3, 13],
  [/pepper/i, 1.5, 14],
  [/cucumber/i, 2.5, 13],
  [/broccoli/i, 2.8, 9.2],
  [/cabbage/i, 1.8, 9.7],
  [/potato/i, 1.7, 12],
  [/spinach/i, 2, 7.6],
  [/carrot/i, 1, 14],
  [/onion/i, 1.2, 16],
  [/\bbeets?\b/i, 4, 9],
  [/celery/i, 1.8, 6.2],
  [/strawberr/i, 1, 33],
  [/sweet ?corn/i, 1.7, 12],
];

function soilSalt({ plan, kgOf, perM2, rate }: Scene): Said[] {
  const ec = plan.soil?.ec;
  if (ec === undefined) return [];
  const row = SALT_CROPS.find(([crop]) => crop.test(plan.targetName));
  const kg = kgOf((amendment) => saltIndexOf(amendment) / 100);
  const more =
    plan.bed.areaM2 === undefined ? "" : ` This mix adds salt like ${rate(perM2(kg))} of sodium nitrate.`;
  const [, bears, perUnit] = row ?? [undefined, 2, undefined];
  if (ec <= bears) return [];
  const above =
    perUnit === undefined
      ? "what sensitive crops bear, about 2."
      : `the ${plainNumber(bears)} that this crop bears: expect about ${percent(Math.max(0, 1 - (perUnit * (ec - bears)) / 100))} of a full yield, whatever it is fed.`;
  const text = `The soil's salt (EC ${plainNumber(ec)} dS/m) is above ${above}${more} Flush it with good water, and choose sources with little salt.`;
  return said("soil-salt", text);
}

/** The rules of this file, in the order in which cautions of one rank are said. */
export const HAZARDS: readonly ((scene: Scene) => Said[])[] = [
  soilSalt,
  cadmium,
  appliedUnavailable,
  ironFixed,
  underPlastic,
  frozenGround,
  autumnNitrogen,
  surfaceLeft,
  materials,
];
