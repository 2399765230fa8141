/** Water, rain, soil tests and what a crop takes up. */
import { leachedFraction } from "../../src/season/leaching.ts";
import { parseQuantity } from "../../src/units.ts";
import { ACRE_M2, bag, type Check, type Json, LB, nutrient, plan } from "./check.ts";

const SOLVE = ["solve", "-"];

/** Nitrogen that water brings to an acre. */
const water = (what: string, credit: object, expected: number, source: string, within: number): Check => ({
  what,
  source,
  standing: "seen",
  args: SOLVE,
  stdin: plan(
    { bag: bag({ N: 46 }) },
    { per: "acre", N: "400 lb" },
    { bed: { area: "1 acre" }, credits: [{ from: "well", ...credit }] },
  ),
  got: nutrient("N", "creditKg"),
  unit: "lb/acre",
  expected,
  within,
});

const WATER: readonly Check[] = [
  water(
    "N in 24 in of water with 20 ppm nitrate-N",
    { nitrate_n: "20 mg/L", water: "24 in" },
    109,
    "University of California, Ventura County: 20 x 0.227 x 24",
    0.5,
  ),
  water(
    "N in a foot of water with 45 ppm nitrate",
    { nitrate: "45 mg/L", water: "12 in" },
    27,
    "University of California, Solution Center for Nutrient Management: 45 ppm nitrate is 10 ppm nitrate-N",
    0.7,
  ),
  water(
    "N in an inch of water with 1 ppm nitrate-N",
    { nitrate_n: "1 mg/L", water: "1 in" },
    0.23,
    "Colorado State University, best management practices: ppm x 0.23 x inches",
    0.005,
  ),
  water(
    "N in an acre-foot with 1 mg/L",
    { nitrate_n: "1 mg/L", water: "12 in" },
    2.72,
    "WateReuse, mg/L x 2.72 = lb per acre-foot",
    0.005,
  ),
];

const SCOTTER =
  "Scotter, White and Dyson 1993, J. Soil Sci. 44:25-33, X = exp(-z w / I), worked out for z = 30 cm";
const BURNS =
  "Burns 1975, J. Agric. Sci. 85:443, the power form, worked out for z = 30 cm (form from memory)";

/** `4 in`, `100 mm`, `15 cm` in metres. */
function metres(text: string): number {
  const read = parseQuantity(text, "length");
  if (!read.ok) throw new Error(text);
  return read.value;
}

/** Share of the nitrate that a rain carries below 30 cm. */
const rain = (
  rainText: string,
  soilWater: string,
  expected: number,
  further: { readonly mixedTo?: string; readonly power?: true } = {},
): Check => ({
  what: `nitrate carried below 30 cm by ${rainText}, soil holding ${soilWater}${further.mixedTo ? `, mixed to ${further.mixedTo}` : ""}`,
  source: further.power ? BURNS : SCOTTER,
  standing: further.power ? "memory" : "computed",
  args: [],
  got: Number,
  of: () =>
    100 *
    leachedFraction({
      drainageM: metres(rainText),
      soilWater: Number.parseFloat(soilWater) / 100,
      depthM: 0.3,
      mixedToM: further.mixedTo === undefined ? 0 : metres(further.mixedTo),
    }),
  unit: "%",
  expected: 100 * expected,
  within: further.power ? 1.2 : 0.006,
  ...(further.power ? { why: "the two forms of the equation differ by about a point" } : {}),
});

const RAIN: readonly Check[] = [
  rain("1 in", "15%", 0.1701),
  rain("2 in", "15%", 0.4124),
  rain("100 mm", "15%", 0.6376),
  rain("4 in", "15%", 0.6422),
  rain("1 in", "30%", 0.0289),
  rain("2 in", "30%", 0.1701),
  rain("100 mm", "30%", 0.4066),
  rain("4 in", "30%", 0.4124),
  rain("4 in", "25%", 0.478),
  rain("1 in", "30%", 0.0797, { mixedTo: "15 cm" }),
  rain("2 in", "30%", 0.2736, { mixedTo: "15 cm" }),
  rain("100 mm", "30%", 0.5135, { mixedTo: "15 cm" }),
  rain("4 in", "30%", 0.5188, { mixedTo: "15 cm" }),
  rain("4 in", "25%", 0.5781, { mixedTo: "15 cm" }),
  rain("1 in", "15%", 0.1788, { power: true }),
  rain("4 in", "25%", 0.4823, { power: true }),
];

const RUTGERS =
  "Rutgers NJAES, Relative levels of nutrients (Mehlich-3, lb per acre); the rates of the Mid-Atlantic guide from memory";

/** What the shipped tomato asks for on an acre at a soil-test reading. */
const tomato = (
  name: string,
  soilTest: object,
  expected: number,
  source: string,
  standing: Check["standing"] = "seen",
): Check => ({
  what: `${name} asked for tomato at ${JSON.stringify(soilTest).replaceAll('"', "")}`,
  source,
  standing,
  args: SOLVE,
  stdin: {
    plan: "Tomato by soil test",
    amendments: {
      bag: bag({ N: 20, P2O5: 20, K2O: 20 }),
      potash: bag({ K2O: 50 }),
      phosphate: bag({ P2O5: 40 }),
      urea: bag({ N: 46 }),
    },
    recipe: "tomato",
    bed: { area: "1 acre" },
    soil_test: soilTest,
  },
  got: (json) => (json.nutrients.find((n: Json) => n.nutrient === name)?.minKg ?? 0) / LB,
  unit: "lb/acre",
  expected,
  within: 0.01,
});

const SOIL: readonly Check[] = [
  ...(
    [
      [45, 200],
      [46, 150],
      [71, 150],
      // At optimum the harvest's removal, 0.207 kg P/t x 60 t/ha, to the nearest 5 lb.
      [72, 25],
      [137, 25],
      [138, 0],
    ] as const
  ).map(([reading, rate]) =>
    tomato("P2O5", { method: "mehlich-3", P: `${reading} lb/acre` }, rate, RUTGERS, "memory"),
  ),
  ...(
    [
      [81, 300],
      [82, 200],
      [145, 200],
      [146, 100],
      [277, 100],
      [278, 0],
    ] as const
  ).map(([reading, rate]) =>
    tomato("K2O", { method: "mehlich-3", K: `${reading} lb/acre` }, rate, RUTGERS, "memory"),
  ),
  ...(
    [
      ["N", 200],
      ["P2O5", 150],
      ["K2O", 225],
    ] as const
  ).map(([name, rate]) =>
    tomato(
      name,
      { recommends: { per: "acre", N: "200 lb", P2O5: "150 lb", K2O: "225 lb" } },
      rate,
      "University of Florida, CV236, Hochmuth and Hanlon: 200-150-225 lb per acre",
    ),
  ),
];

const BEAN_RATES = {
  P2O5: { "very low": "80 lb", low: "80 lb", medium: "80 lb", high: "0 lb", "very high": "0 lb" },
  K2O: { "very low": "100 lb", low: "80 lb", medium: "80 lb", high: "0 lb", "very high": "0 lb" },
  N: { "very low": "60 lb", low: "50 lb", medium: "20 lb", high: "0 lb", "very high": "0 lb" },
} as const;

/** A rating looked up in a published table of amounts. */
const bean = (name: keyof typeof BEAN_RATES, rating: keyof (typeof BEAN_RATES)["N"]): Check => ({
  what: `${name} for pinto beans at a rating of ${rating}`,
  source: "Texas A&M AgriLife Extension, pinto bean, Table 3: lb per acre by soil-test rating",
  standing: "seen",
  args: SOLVE,
  stdin: {
    plan: "Pinto beans",
    amendments: { bag: bag({ N: 20, P2O5: 20, K2O: 20 }) },
    target: {
      target: "Pinto bean",
      season: "90 days",
      need: { per: "acre", N: "1 lb", P2O5: "1 lb", K2O: "1 lb" },
      soil_test_ratings: { methods: [], recommends: [{ per: "acre", method: "mehlich-3", ...BEAN_RATES }] },
    },
    bed: { area: "1 acre" },
    soil_test: { method: "mehlich-3", rating: { [name]: rating } },
  },
  got: (json) => (json.nutrients.find((n: Json) => n.nutrient === name)?.minKg ?? 0) / LB,
  unit: "lb/acre",
  expected: Number.parseFloat(BEAN_RATES[name][rating]),
  within: 1e-6,
});

const BEANS: readonly Check[] = [
  bean("N", "very low"),
  bean("N", "low"),
  bean("N", "medium"),
  bean("P2O5", "low"),
  bean("P2O5", "high"),
  bean("K2O", "very low"),
  bean("K2O", "medium"),
  bean("K2O", "very high"),
];

/** Uptake per tonne times the yield, on a hectare. */
const uptake: readonly Check[] = (
  [
    ["N", "N", "2.5 kg", 250, 1],
    ["P", "P2O5", "0.75 kg", 75, 0.43643],
    ["K", "K2O", "3 kg", 300, 0.83015],
  ] as const
).map(([element, label, perTonne, expected, back]) => ({
  what: `${element} of 100 t/ha of tomatoes at ${perTonne} per tonne`,
  source: "a South African horticulture guide: 250 kg N, 75 kg P, 300 kg K per ha",
  standing: "seen",
  args: SOLVE,
  stdin: {
    plan: "Uptake per tonne",
    amendments: { bag: bag({ N: 20, P2O5: 20, K2O: 20 }) },
    target: {
      target: "Tomato",
      season: "120 days",
      yield: "100 t/ha",
      uptake_per_yield: { per: "t", [element]: perTonne },
    },
    bed: { area: "1 ha" },
  },
  got: (json) => nutrient(label, "minKg", 1)(json) * back,
  unit: "kg/ha",
  expected,
  within: 0.01,
}));

/** A shipped crop on a hectare, with a look on one day: what part of the season's nitrogen is due by then. */
const due = (
  crop: string,
  day: number,
  since: number | null,
  expected: readonly [number, number],
  source: string,
): Check => ({
  what:
    since === null
      ? `share of the nitrogen of ${crop} due by day ${day}`
      : `share of the nitrogen of ${crop} due from day ${since} to ${day}`,
  source,
  standing: "seen",
  args: SOLVE,
  stdin: {
    plan: "When it is due",
    amendments: { n: bag({ N: 46 }), p: bag({ P2O5: 40 }), k: bag({ K2O: 50 }) },
    recipe: crop,
    bed: { area: "1 ha" },
    applications: [0, ...(since === null ? [] : [since]), day].map((on) => ({ day: on })),
    blend: "each",
  },
  got: (json) => {
    const n = json.nutrients.find((entry: Json) => entry.nutrient === "N");
    const by = (on: number): number => n.checkpoints.find((c: Json) => c.day === on).needKg;
    return (100 * (by(day) - (since === null ? 0 : by(since)))) / n.minKg;
  },
  unit: "%",
  expected,
  within: 1e-6,
});

const TIMING: readonly Check[] = [
  due(
    "lettuce",
    25,
    null,
    [20, 30],
    "Geisseler, University of California, Davis, after Bottoms et al. 2012, HortScience 47:1768: 70 to 80 % in the last month of 55 days",
  ),
  due(
    "lettuce",
    34,
    null,
    [0, 30],
    "Zink and Yamaguchi 1963, California Agriculture 17(6):13: more than 70 % in the last 21 days",
  ),
  due(
    "tomato",
    77,
    35,
    [57, 71],
    "Hartz and Bottoms 2009, HortScience 44:1988: six weeks at 4 to 5 kg of 296 kg N per ha",
  ),
];

/** Nitrogen of a shipped crop at its own yield, on an acre or a hectare. */
const asked = (
  crop: string,
  area: "1 acre" | "1 ha",
  name: string,
  expected: number | readonly [number, number],
  source: string,
  within = 0.5,
): Check => ({
  what: `${name} that the shipped ${crop} asks for on ${area}`,
  source,
  standing: "seen",
  args: SOLVE,
  stdin: {
    plan: "A shipped crop",
    amendments: { n: bag({ N: 46 }), p: bag({ P2O5: 40 }), k: bag({ K2O: 50 }) },
    recipe: crop,
    bed: { area },
  },
  got: nutrient(name, "minKg", area === "1 acre" ? LB : 1),
  unit: area === "1 acre" ? "lb" : "kg",
  expected,
  within,
});

const HEGDE =
  "Hegde 1997, Nutrient requirements of solanaceous vegetable crops, FFTC Extension Bulletin 441, per tonne of fruit times the yield";
const GUIDE = "New England Vegetable Management Guide, Table 4, Approximate nutrient removal";
const CROPS: readonly Check[] = [
  asked("tomato", "1 ha", "N", [2.5 * 60, 3 * 60], HEGDE),
  asked("eggplant", "1 ha", "N", [3 * 30, 3.5 * 30], HEGDE),
  asked("pepper", "1 ha", "K2O", [5 * 30 * 1.2046, 6 * 30 * 1.2046], HEGDE),
  asked("cabbage", "1 acre", "N", 125, GUIDE),
  asked("cabbage", "1 acre", "K2O", 130, GUIDE),
  asked("celery", "1 acre", "P2O5", 80, GUIDE),
  asked("broccoli", "1 acre", "N", 165, GUIDE),
  asked("carrot", "1 acre", "N", 145, GUIDE),
  asked("snap-bean", "1 acre", "K2O", 35, GUIDE),
];

/** A yard of compost as a credit. */
const COMPOST: Check = {
  what: "N in a cubic yard of compost of 950 lb and 2 % N",
  source: "950 lb per cubic yard and 2 % N, as in a published worked set-up; 19 lb computed",
  standing: "computed",
  args: SOLVE,
  stdin: plan(
    { bag: bag({ N: 46 }) },
    { per: "bed", N: "40 lb" },
    {
      bed: { area: `${ACRE_M2} m2` },
      credits: [
        {
          from: "compost",
          spread: "1 cu yd",
          analysis: { N: 2 },
          density: "950 lb/cu yd",
          release: "at-once",
        },
      ],
    },
  ),
  got: nutrient("N", "creditKg"),
  unit: "lb",
  expected: 19,
  within: 1e-6,
};

export const SOIL_AND_WATER: readonly Check[] = [
  ...WATER,
  COMPOST,
  ...RAIN,
  ...SOIL,
  ...BEANS,
  ...uptake,
  ...CROPS,
  ...TIMING,
];
