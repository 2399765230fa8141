/** Worked examples of extension texts: manures, a soil test's rates, prices of nutrients; seen as excerpts of those texts. */
import { bag, type Check, type Json, LB, nutrient, plan, pounds } from "./check.ts";

const SOLVE = ["solve", "-"];
const TON_LB = 2000;

/** A plan on an acre, over a season long enough for all that rots in it. */
const acre = (amendments: Readonly<Record<string, object>>, need: object, more: object = {}): object => ({
  ...plan(amendments, {}, { bed: { area: "1 acre" }, ...more }),
  target: { target: "Example", season: "400 days", need: { per: "acre", ...need } },
});
const raw = (fields: object): object => ({
  name: "Manure",
  kind: "manure-raw",
  bulk: { price: 0.01, per: "lb" },
  ...fields,
});
const tons = (json: Json): number => pounds("manure")(json) / TON_LB;
const on = (how: object): object => ({ applications: [{ day: 0, ...how }] });

const MONTANA =
  "Montana State University Extension, CNMP step 5: 21 lb N and 8 lb NH4-N a ton; 13 x 0.25 + 8 x 0.66 = 8.53 lb; 160 / 8.53 = 18.8 tons";
const montana = { manure: raw({ analysis: { N: 1.05 }, ammonium_n: 0.4, animal: "cattle" }) };
const CNMP: readonly Check[] = [
  {
    what: "tons of manure left on the surface for 160 lb of nitrogen",
    source: MONTANA,
    standing: "seen",
    args: SOLVE,
    stdin: acre(montana, { N: "160 lb" }, on({ placement: "surface" })),
    got: tons,
    unit: "tons",
    expected: 18.8,
    within: 0.2,
    why: "0.66 stands for two thirds",
  },
  {
    what: "nitrogen that a ton of it frees",
    source: MONTANA,
    standing: "seen",
    args: SOLVE,
    stdin: acre(montana, { N: "160 lb" }, on({ placement: "surface" })),
    got: (json) => 160 / tons(json),
    unit: "lb",
    expected: 8.53,
    within: 0.06,
    why: "0.66 stands for two thirds",
  },
];

const CORNELL =
  "Cornell University CSS 412: organic nitrogen of manure freed this year, cows under 18 % dry matter 35 %, others 25, poultry 55, swine 35 and 25, horses 30 and 25, sheep 35 and 25";
const organic = (what: string, fields: object, expected: number, within = 0.01, why?: string): Check => ({
  what: `organic nitrogen that ${what} frees`,
  source: CORNELL,
  standing: "seen",
  args: SOLVE,
  stdin: acre({ manure: raw({ analysis: { N: 0.25 }, ammonium_n: 0, ...fields }) }, { N: "10 lb" }),
  got: (json) => (100 * 10) / (tons(json) * 5),
  unit: "%",
  expected,
  within,
  ...(why === undefined ? {} : { why }),
});
const CSS_412: readonly Check[] = [
  {
    what: "tons of wet cow manure with 5 lb of organic nitrogen each for 17.5 lb",
    source: `${CORNELL}; 10 tons x 5 lb x 35 %`,
    standing: "computed",
    args: SOLVE,
    stdin: acre(
      { manure: raw({ analysis: { N: 0.25 }, ammonium_n: 0, animal: "cattle", dry_matter: "12%" }) },
      { N: "17.5 lb" },
    ),
    got: tons,
    unit: "tons",
    expected: 10,
    within: 0.01,
  },
  organic("wet cow manure", { animal: "cattle", dry_matter: "17%" }, 35),
  organic("drier cow manure", { animal: "cattle", dry_matter: "18%" }, 25),
  organic("poultry manure", { animal: "poultry" }, 55),
  organic("wet swine manure", { animal: "swine", dry_matter: "5%" }, 35),
  organic("drier swine manure", { animal: "swine", dry_matter: "25%" }, 25),
  organic("wet sheep manure", { animal: "sheep", dry_matter: "15%" }, 35),
  organic("drier sheep manure", { animal: "sheep", dry_matter: "30%" }, 25),
  organic("horse manure", { animal: "horse" }, 25, 5.01, "the table has 30 and 25; the lower is counted"),
];

const MINNESOTA =
  "University of Minnesota Extension, manure rates, Table 1, beef: 25, 45 and 60 % of nitrogen in year 1, dug in over 96 hours, 12 to 96, under 12";
const beef = (how: string, dug_in: string, expected: number): Check => ({
  what: `nitrogen of beef manure in the first year, dug in ${how}`,
  source: MINNESOTA,
  standing: "seen",
  args: SOLVE,
  stdin: acre({ manure: raw({ analysis: { N: 0.5 }, animal: "cattle" }) }, { N: "10 lb" }, on({ dug_in })),
  got: (json) => (100 * 10) / (tons(json) * 10),
  unit: "%",
  expected,
  within: 0.01,
});

const SURFACE: Check = {
  what: "nitrogen of pellets lost to the air from the surface",
  source:
    "J. Environ. Qual. 33:1183 (2004, abstract): 3.3 % of total N in winter to 24 % in summer from litter",
  standing: "seen",
  args: SOLVE,
  stdin: acre(
    {
      manure: {
        name: "Pellets",
        kind: "manure-processed",
        analysis: { N: 4 },
        release: "at-once",
        bulk: { price: 0.1, per: "lb" },
      },
    },
    { N: "80 lb" },
    on({ placement: "surface" }),
  ),
  got: (json) => 100 * (1 - 80 / (pounds("manure")(json) * 0.04)),
  unit: "%",
  expected: [3.3, 24],
  within: 0,
};

const KENTUCKY =
  "University of Kentucky, Rowell and Hadad, Organic Manures and Fertilizers for Vegetable Crops: 80 lb of N at 3.2 % is 2500 lb, which bring 130 lb of P2O5 and 45 of K2O";
const kentucky = acre({ bag: bag({ N: 3.2, P2O5: 5.2, K2O: 1.8 }) }, { N: "80 lb" });
const KENTUCKY_RATE: readonly Check[] = [
  { what: "poultry compost of 3.2 % N for 80 lb", got: pounds("bag"), expected: 2500, within: 0.5 },
  { what: "P2O5 that it brings", got: nutrient("P2O5", "appliedKg"), expected: 130, within: 0.5 },
  { what: "K2O that it brings", got: nutrient("K2O", "appliedKg"), expected: 45, within: 0.5 },
].map((check) => ({
  ...check,
  source: KENTUCKY,
  standing: "seen",
  args: SOLVE,
  stdin: kentucky,
  unit: "lb",
}));

const MAGAZINE =
  "a garden magazine's worked example, 2010, a quarter acre at 100 and 100 lb per acre: 250 lb of fish meal 9-2.5 and 80 lb of bone meal 3.5-22 are 25.3 lb of N and 23.85 of P2O5";
const quarterAcre: readonly Check[] = (
  [
    ["N", 25.3],
    ["P2O5", 23.85],
  ] as const
).map(([name, expected]) => ({
  what: `${name} of 250 lb of fish meal and 80 lb of bone meal`,
  source: MAGAZINE,
  standing: "seen",
  args: ["assay", "-"],
  stdin: {
    mix: { fish: "250 lb", bone: "80 lb" },
    amendments: { fish: bag({ N: 9, P2O5: 2.5 }), bone: bag({ N: 3.5, P2O5: 22 }) },
  },
  got: (json) => json.content[name] / LB,
  unit: "lb",
  expected,
  within: 0.005,
}));

/** What a pound of nitrogen costs from a bag, by weight. */
const perPound = (
  what: string,
  source: string,
  analysis: Readonly<Record<string, number>>,
  pricePerLb: number,
  expected: number,
  within = 0.005,
): Check => ({
  what: `price of a pound of nitrogen from ${what}`,
  source,
  standing: "seen",
  args: SOLVE,
  stdin: acre({ bag: bag(analysis, pricePerLb) }, { N: "1 lb" }),
  got: (json) => json.cost.total,
  unit: "USD",
  expected,
  within,
});
const SOIL_2125 = "University of Minnesota, Soil 2125, chapter 2";
const DELTA = "Varco, Mississippi State University, in a farm paper, 2008";
const PRICES: readonly Check[] = [
  perPound("20 lb of 33-0-0 at 7.95", SOIL_2125, { N: 33 }, 7.95 / 20, 1.2),
  perPound("50 lb of 6-30-0 at 3.95", SOIL_2125, { N: 6, P2O5: 30 }, 3.95 / 50, 1.31, 0.008),
  {
    what: "lb of a 34 % material for 4 lb of nitrogen",
    source: SOIL_2125,
    standing: "seen",
    args: SOLVE,
    stdin: acre({ bag: bag({ N: 34 }) }, { N: "4 lb" }),
    got: pounds("bag"),
    unit: "lb",
    expected: 11.8,
    within: 0.05,
  },
  perPound("82 % N at 575 a ton (575 / 1640)", DELTA, { N: 46 }, (575 / 1640) * 0.46, 0.35),
  perPound("32 % N at 320 a ton (320 / 640)", DELTA, { N: 32 }, 320 / 2000, 0.5),
];

const OHIO: Check = {
  what: "nitrogen still to give after a pre-sidedress test that takes 45 off 156 lb",
  source: "Ohio State University, C.O.R.N. newsletter 2022: 16 to 20 ppm takes 45 off; 156 - 45 = 111",
  standing: "seen",
  args: SOLVE,
  stdin: acre(
    { bag: bag({ N: 46 }) },
    { N: "156 lb" },
    { credits: [{ from: "nitrate test", per: "acre", N: "45 lb" }] },
  ),
  got: nutrient("N", "appliedKg"),
  unit: "lb",
  expected: 111,
  within: 0.005,
};

const PNW = "Oregon State University PNW 636 (2012)";
const mixedCover: Check = {
  what: "nitrogen of a ton of cover, 75 % cereal with 1 % N and 25 % legume with 3.5 %",
  source: `${PNW}: near zero`,
  standing: "seen",
  args: SOLVE,
  stdin: acre(
    { bag: bag({ N: 46 }) },
    { N: "100 lb" },
    {
      credits: [
        { from: "cereal", dry_matter: "0.75 ton/acre", N: "1%", day: -14 },
        { from: "legume", dry_matter: "0.25 ton/acre", N: "3.5%", day: -14 },
      ],
    },
  ),
  got: nutrient("N", "creditKg"),
  unit: "lb",
  expected: 0,
  within: 4,
  why: "near zero, of 35 lb that a ton of legume alone brings",
};
const turnedIn = (days: number, expected: number): Check => ({
  what: `share of a green manure's nitrogen ${days} days after it was turned in`,
  source: `${PNW}: most of it in 4 to 6 weeks`,
  standing: "computed",
  args: SOLVE,
  stdin: {
    ...plan({ bag: bag({ N: 46 }) }, {}, { bed: { area: "1 acre" }, soil_temperature: "18 C" }),
    target: { target: "Example", season: `${days - 14} days`, need: { per: "acre", N: "100 lb" } },
    credits: [{ from: "vetch", dry_matter: "1 ton/acre", N: "3.5%", day: -14 }],
  },
  got: (json) => (100 * nutrient("N", "creditKg")(json)) / 35,
  unit: "%",
  expected,
  within: 0.01,
});

const COMPOST_MAKER: Check = {
  what: "nitrogen of half an inch of compost with 1 % N on 100 sq ft, which four 40 lb bags cover",
  source: "a compost maker's article in a magazine, 2011: four 40 lb bags or 30 gallons",
  standing: "computed",
  args: SOLVE,
  stdin: {
    ...plan({ bag: bag({ N: 46 }) }, { per: "bed", N: "9 lb" }, { bed: { area: "100 sq ft" } }),
    credits: [
      { from: "compost", spread: "0.5 in", density: "38.4 lb/cu ft", analysis: { N: 1 }, release: "at-once" },
    ],
  },
  got: nutrient("N", "creditKg"),
  unit: "lb",
  expected: 1.6,
  within: 0.005,
};

const BEANS = "Texas A&M AgriLife Extension, pinto bean, Table 3, rates by soil-test rating";
const RATINGS = ["very low", "low", "medium", "high", "very high"] as const;
const TABLE = { N: [60, 50, 20, 0, 0], P2O5: [80, 80, 80, 0, 0], K2O: [100, 80, 80, 0, 0] } as const;
const rates = Object.fromEntries(
  Object.entries(TABLE).map(([name, row]) => [
    name,
    Object.fromEntries(RATINGS.map((rating, k) => [rating, `${row[k]} lb`])),
  ]),
);
const PINTO: readonly Check[] = Object.entries(TABLE).flatMap(([name, row]) =>
  RATINGS.map(
    (rating, k): Check => ({
      what: `${name} asked for pinto beans where the soil is rated ${rating}`,
      source: BEANS,
      standing: "seen",
      args: SOLVE,
      stdin: {
        ...plan({ bag: bag({ N: 20, P2O5: 20, K2O: 20 }) }, {}, { bed: { area: "1 acre" } }),
        target: {
          target: "Pinto bean",
          season: "90 days",
          need: { per: "acre", N: "1 lb", P2O5: "1 lb", K2O: "1 lb" },
          soil_test_ratings: { recommends: [{ per: "acre", method: "mehlich-3", ...rates, source: BEANS }] },
        },
        soil_test: { method: "mehlich-3", rating: { [name]: rating } },
      },
      got: (json) => (json.nutrients.find((n: Json) => n.nutrient === name)?.minKg ?? 0) / LB,
      unit: "lb/acre",
      expected: row[k]!,
      within: 0.005,
    }),
  ),
);

export const THIRD_ROUND: readonly Check[] = [
  ...CNMP,
  ...CSS_412,
  beef("within 12 hours", "11 hours", 60),
  beef("after two days", "48 hours", 45),
  beef("after a week", "1 week", 25),
  SURFACE,
  ...KENTUCKY_RATE,
  ...quarterAcre,
  ...PRICES,
  OHIO,
  mixedCover,
  turnedIn(28, 75),
  turnedIn(42, 87.5),
  COMPOST_MAKER,
  ...PINTO,
];
