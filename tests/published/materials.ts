/** What shipped materials hold, weigh and release. */
import { type Check, type Json, LB, OZ } from "./check.ts";

/** One nutrient of a shipped amendment. */
const holds = (
  id: string,
  name: string,
  expected: number,
  source: string,
  within = 0.005,
  standing: Check["standing"] = "seen",
): Check => ({
  what: `${name} in ${id}`,
  source,
  standing,
  args: ["list", "amendments", "--search", id],
  got: (json) => 100 * (json.items.find((a: Json) => a.id === id).analysis[name] ?? 0),
  unit: "%",
  expected,
  within,
});

const B1270 = "University of Georgia Extension B1270, samples of 2000 to 2002";
const MIDWEST = "A table of manures that goes back to the Midwest Plan Service, beef without bedding";
const TEXAS = "Texas A&M AgriLife Extension, Earth-Kind gardening, common organic fertilizers";
const rows = (id: string, [n, p2o5, k2o]: readonly [number, number, number], source: string): Check[] => [
  holds(id, "N", n, source),
  holds(id, "P2O5", p2o5, source),
  holds(id, "K2O", k2o, source),
];

const CALRECYCLE =
  "Soil Control Lab for CalRecycle 2013, over 1600 composts, of the dry matter; here with 40 % water";

const ANALYSES: readonly Check[] = [
  ...rows("broiler-litter", [3.15, 2.77, 2.33], B1270),
  ...rows("composted-litter", [2.8, 3, 2.3], B1270),
  ...rows("layer-manure", [2.26, 3.16, 2.05], B1270),
  ...rows(
    "cattle-manure",
    [0.5, 0.3, 0.5],
    "A table of manures as they come, dairy at 81 % water; N and K2O also Texas A&M",
  ),
  ...rows("sheep-manure", [0.9, 0.5, 0.8], TEXAS),
  ...rows("guano-bat", [6, 9, 3], TEXAS),
  ...rows("horse-manure", [0.6, 0.3, 0.6], TEXAS),
  ...rows("seaweed-dried", [1, 0.5, 9], TEXAS),
  holds("compost", "N", 1.53 * 0.6, CALRECYCLE, 0.005, "computed"),
  holds("compost", "P2O5", 1.34 * 0.6, CALRECYCLE, 0.005, "computed"),
  holds("compost", "K2O", 1.36 * 0.6, CALRECYCLE, 0.005, "computed"),
];

/** Fifteen tons of feedlot manure. */
const feedlot: readonly Check[] = (
  [
    ["N", 315],
    ["P2O5", 210],
    ["K2O", 345],
  ] as const
).map(([name, expected]) => ({
  what: `${name} in 15 tons of feedlot manure`,
  source: `${MIDWEST}: 21-14-23 lb per ton x 15`,
  standing: "seen",
  args: ["assay", "-"],
  stdin: { mix: { "feedlot-manure": "15 ton" }, amendments: { recipe: "all" } },
  got: (json) => json.content[name] / LB,
  unit: "lb",
  expected,
  within: 0.5,
}));

/** Weight of a loose measure of a shipped material. */
const weighs = (
  id: string,
  measure: string,
  expected: number,
  unit: "oz" | "lb",
  source: string,
  within: number,
  why?: string,
): Check => ({
  what: `weight of ${measure} of ${id}`,
  source,
  standing: "seen",
  args: ["assay", "-"],
  stdin: { mix: { [id]: measure }, amendments: { recipe: "all" } },
  got: (json) => json.kg / (unit === "oz" ? OZ : LB),
  unit,
  expected,
  within,
  ...(why === undefined ? {} : { why }),
});

const LSU = "LSU AgCenter, Tons to Teaspoons, Table 2";
const NOFA = "NOFA soil manual, Appendix A";
const DENSITIES: readonly Check[] = [
  weighs(
    "lime-calcitic",
    "1 cup",
    0.75,
    "lb",
    "University of Connecticut: one cup of ground limestone weighs about 3/4 lb",
    0.01,
  ),
  weighs("cottonseed-meal", "1 pint", 10, "oz", LSU, 0.5),
  weighs("sulfur", "1 pint", 10, "oz", LSU, 0.5),
  weighs("sodium-nitrate", "1 pint", 23, "oz", LSU, 0.5),
  weighs("broiler-litter", "1 cu ft", 42, "lb", "Alabama Extension MKM-14-4, citing Kammel 1991", 0.5),
  weighs("cottonseed-meal", "1 cu ft", 38, "lb", "Alabama Extension MKM-14-4, citing Kammel 1991", 0.5),
  weighs("horse-manure", "1 bushel", 40, "lb", NOFA, 0.5),
  weighs("cattle-manure", "1 bushel", 80, "lb", NOFA, 0.5),
  weighs(
    "compost",
    "1 cu yd",
    1000,
    "lb",
    `${NOFA}: 1000 lb per cubic yard and 50 lb per bushel`,
    90,
    "the two figures of the table differ by 8 %; the file takes the middle",
  ),
];

/** What one shipped material has given by a day, of what it holds. */
const released = (
  id: string,
  name: string,
  days: number,
  celsius: number,
  expected: number | readonly [number, number],
  source: string,
  within = 0.5,
  why?: string,
  standing: Check["standing"] = "seen",
): Check => ({
  what: `${name} that ${id} has given in ${days} days at ${celsius} C`,
  source,
  standing,
  args: ["solve", "-", "--by", "weight"],
  stdin: {
    plan: "One material",
    amendments: { recipe: "all" },
    only: [id],
    target: { target: "Example", season: `${days} days`, need: { per: "bed", [name]: "1 kg" } },
    bed: { area: "1 ha" },
    soil_temperature: `${celsius} C`,
  },
  got: (json) => {
    const entry = json.nutrients.find((n: Json) => n.nutrient === name);
    return (100 * entry.availableKg) / entry.appliedKg;
  },
  unit: "%",
  expected,
  within,
  ...(why === undefined ? {} : { why }),
});

const HARTZ = "Hartz and Johnstone 2006, HortTechnology 16:39-42";
const LAZICKI = "Lazicki, Geisseler and Lloyd 2020, J. Environ. Qual. 49:483, 84 days at 23 C";
const RELEASE: readonly Check[] = [
  released("blood-meal", "N", 56, 25, 66, `${HARTZ}, mean of the materials`),
  released("feather-meal", "N", 56, 10, 56, `${HARTZ}, mean of the materials`),
  released("feather-meal", "N", 14, 10, [47, 60], `${HARTZ}, lowest and highest in two weeks`),
  released("fish-meal", "N", 14, 25, [47, 60], `${HARTZ}, lowest and highest in two weeks`),
  released("guano-seabird", "N", 56, 18, [56, 66], `${HARTZ}, between 10 and 25 C`),
  released("feather-meal", "N", 84, 23, [60, 90], `${LAZICKI}, quick-release materials`),
  released("poultry-pellets", "N", 84, 23, [35, 55], `${LAZICKI}, granular fertilizers`),
  released("composted-litter", "N", 84, 23, [15, 30], `${LAZICKI}, composts of poultry manure`),
  released("compost", "N", 84, 23, [0, 5], `${LAZICKI}, composts of yard trimmings`),
  released(
    "compost",
    "N",
    100,
    25,
    [1, 7],
    "report LS16-269, University of Georgia 2019: composts that mineralised, 1 to 4 %; manure compost 7 % in 12 weeks (Hartz, Mitchell and Giannini 2000)",
  ),
  released(
    "broiler-litter",
    "P2O5",
    120,
    18,
    [40, 100],
    "Ontario Factsheet 13-043: 40 %; Kansas State, Ruiz Diaz: 50 to 100 %; Oklahoma State: 90 %",
  ),
  released(
    "composted-litter",
    "P2O5",
    14,
    18,
    [30, 36],
    "Japanese Journal of Soil Science and Plant Nutrition 81(3), 2010: 30 to 31 % readily soluble in layer and broiler composts",
  ),
  released(
    "soybean-meal",
    "N",
    28,
    25,
    60,
    "Oregon State EM 9235 after Gale et al. 2006: 60 % in 4 weeks from 6 % N on",
    4,
    undefined,
    "memory",
  ),
  released("sulfur", "S", 56, 25, [60, 100], "a garden page: 6 to 8 weeks in warm moist soil"),
];

export const MATERIALS: readonly Check[] = [...ANALYSES, ...feedlot, ...DENSITIES, ...RELEASE];
