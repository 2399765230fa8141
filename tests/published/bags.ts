/** Arithmetic of bags: how much of a material brings a nutrient, and what else it brings. */
import { bag, type Check, LB, nutrient, OZ, plan, pounds } from "./check.ts";

const SOLVE = ["solve", "-"];
const ASSAY = ["assay", "-"];

const H119 = "New Mexico State University, Guide H-119, Determining Amounts of Fertilizer for Small Areas";
const TULSA = "Tulsa Master Gardeners, Oklahoma State University, fertilizer rates for 1000 sq ft";
const KANSAS = "Kansas State University Research and Extension, sidedressing tomatoes, per 30 ft of row";

/** Weight of one label for a rate of nitrogen on 1000 sq ft. */
const oneBag = (
  label: string,
  analysis: Readonly<Record<string, number>>,
  rate: number,
  expected: number,
  source: string,
  within: number,
): Check => ({
  what: `${rate} lb of N per 1000 sq ft from ${label}`,
  source,
  standing: "seen",
  args: SOLVE,
  stdin: plan({ bag: bag(analysis) }, { per: "1000 sq ft", N: `${rate} lb` }),
  got: pounds("bag"),
  unit: "lb",
  expected,
  within,
});

const tulsa = (
  label: string,
  analysis: Readonly<Record<string, number>>,
  rates: readonly number[],
): Check[] =>
  rates.map((expected, i) =>
    oneBag(label, analysis, [1, 1.5, 3][i]!, expected, TULSA, Number.isInteger(expected) ? 1e-6 : 0.0501),
  );

const contents: Check[] = (
  [
    ["N", 16],
    ["P2O5", 4],
    ["K2O", 8],
  ] as const
).map(([name, expected]) => ({
  what: `${name} in a 100 lb bag of 16-4-8`,
  source: H119,
  standing: "seen",
  args: ASSAY,
  stdin: { mix: { bag: "100 lb" }, amendments: { bag: bag({ N: 16, P2O5: 4, K2O: 8 }) } },
  got: (json) => json.content[name] / LB,
  unit: "lb",
  expected,
  within: 1e-6,
}));

const smallAreas: Check[] = (
  [
    [100, 0.23],
    [200, 0.46],
    [400, 0.92],
    [500, 1.15],
    [600, 1.38],
    [700, 1.61],
    [800, 1.84],
    [1000, 2.3],
    [2000, 4.59],
  ] as const
).map(([perAcre, expected]) => ({
  what: `${perAcre} lb/acre on 100 sq ft`,
  source: `${H119}, Table 1`,
  standing: "seen",
  args: SOLVE,
  stdin: plan(
    { bag: bag({ N: 20 }) },
    { per: "acre", N: `${perAcre * 0.2} lb` },
    { bed: { area: "100 sq ft" } },
  ),
  got: pounds("bag"),
  unit: "lb",
  expected,
  within: 0.005,
}));

const two = plan(
  { "11-55-0": bag({ N: 11, P2O5: 55 }), "21-0-0": bag({ N: 21 }) },
  { per: "1000 sq ft", N: { min: "3 lb" }, P2O5: { min: "1 lb", max: "1 lb" } },
);
const GARDEN = "a garden article, 3 lb of N and 1 lb of P2O5 on 1000 sq ft, author unknown";
const several: Check[] = [
  {
    what: "11-55-0 for 1 lb of P2O5",
    source: GARDEN,
    standing: "secondary",
    args: SOLVE,
    stdin: two,
    got: pounds("11-55-0"),
    unit: "lb",
    expected: 1.8,
    within: 0.05,
  },
  {
    what: "21-0-0 for what is left of 3 lb of N",
    source: GARDEN,
    standing: "secondary",
    args: SOLVE,
    stdin: two,
    got: pounds("21-0-0"),
    unit: "lb",
    expected: 13.3,
    within: 0.05,
  },
];

const SYMONDS = "Symonds, Fertilizer Guide, technical bulletin, 10-20-20 at 2 cups per lb on 200 sq ft";
const symonds = plan(
  { bag: { ...bag({ N: 10, P2O5: 20, K2O: 20 }), density: "1 lb/pint" } },
  { per: "100 sq ft", N: "0.123 lb" },
  { bed: { area: "200 sq ft" } },
);

const NURSERY = "a New England nursery after University of Massachusetts, 2.5 lb of N";
const others: Check[] = [
  {
    what: "12-11-2 for 1 lb of N",
    source:
      "Oregon State University Extension news 2008, on Penhallegon, Values of Organic Fertilizers: 100/12, about 8",
    standing: "seen",
    args: SOLVE,
    stdin: plan({ bag: bag({ N: 12, P2O5: 11, K2O: 2 }) }, { per: "bed", N: "1 lb" }),
    got: pounds("bag"),
    unit: "lb",
    expected: 8,
    within: 0.5,
  },
  {
    what: "5-10-10 for 2 oz of N on 100 sq ft",
    source: "a Master Gardener page: 2/0.05 = 40 oz (which then prints 2 1/4 lb, a slip)",
    standing: "seen",
    args: SOLVE,
    stdin: plan(
      { bag: bag({ N: 5, P2O5: 10, K2O: 10 }) },
      { per: "100 sq ft", N: "2 oz" },
      { bed: { area: "100 sq ft" } },
    ),
    got: (json) => (json.amendments[0].kg as number) / OZ,
    unit: "oz",
    expected: 40,
    within: 1e-6,
  },
  {
    what: "10-20-20 on 200 sq ft",
    source: SYMONDS,
    standing: "seen",
    args: SOLVE,
    stdin: symonds,
    got: pounds("bag"),
    unit: "lb",
    expected: 2.46,
    within: 0.005,
  },
  {
    what: "the same in cups",
    source: SYMONDS,
    standing: "seen",
    args: SOLVE,
    stdin: symonds,
    got: (json) => json.rounds[0].litres / 0.2365882365,
    unit: "cups",
    expected: 4.92,
    within: 0.005,
  },
  oneBag(
    "24-25-4",
    { N: 24, P2O5: 25, K2O: 4 },
    3,
    12.5,
    "University of Massachusetts, Step-by-Step Fertilizer Guide",
    1e-6,
  ),
  oneBag("a 21 % material", { N: 21 }, 3, 14.28, "a garden guide, 3 lb of N from 21 %", 0.01),
  {
    what: "the same on 5000 sq ft",
    source: "a garden guide, 3 lb of N from 21 %",
    standing: "seen",
    args: SOLVE,
    stdin: plan({ bag: bag({ N: 21 }) }, { per: "1000 sq ft", N: "3 lb" }, { bed: { area: "5000 sq ft" } }),
    got: pounds("bag"),
    unit: "lb",
    expected: 71.42,
    within: 0.01,
  },
  oneBag("10-10-10", { N: 10, P2O5: 10, K2O: 10 }, 2.5, 25, NURSERY, 1e-6),
  oneBag("5-10-10", { N: 5, P2O5: 10, K2O: 10 }, 2.5, 50, NURSERY, 1e-6),
  {
    what: "P2O5 that 2.5 lb of N from 5-10-10 bring along",
    source: NURSERY,
    standing: "seen",
    args: SOLVE,
    stdin: plan({ bag: bag({ N: 5, P2O5: 10, K2O: 10 }) }, { per: "1000 sq ft", N: "2.5 lb", P2O5: "1 lb" }),
    got: nutrient("P2O5", "appliedKg"),
    unit: "lb",
    expected: 5,
    within: 1e-6,
  },
  {
    what: "worm castings of 1 % N for 0.2 lb of N on 200 sq ft",
    source: "a supplier's worked example",
    standing: "seen",
    args: SOLVE,
    stdin: plan({ bag: bag({ N: 1 }) }, { per: "bed", N: "0.2 lb" }, { bed: { area: "200 sq ft" } }),
    got: pounds("bag"),
    unit: "lb",
    expected: 20,
    within: 1e-6,
  },
  ...([4, 6] as const).map(
    (weight): Check => ({
      what: `N per acre of ${weight} lb of cottonseed meal on 100 sq ft`,
      source:
        "Texas A&M AgriLife Extension, Earth-Kind gardening: 4 to 6 lb per 100 sq ft of a 6-2.5-2 meal, 105 to 157 lb of N per acre computed",
      standing: "computed",
      args: ASSAY,
      stdin: { mix: { "cottonseed-meal": `${weight} lb` }, amendments: { recipe: "all" } },
      got: (json) => (json.content.N / LB) * 435.6,
      unit: "lb/acre",
      expected: weight === 4 ? 105 : 157,
      within: 0.5,
    }),
  ),
  {
    what: "300 lb/acre of N in a tunnel of 26 by 96 ft",
    source: "Nennich, University of Minnesota, high tunnels: 0.057 acre, 17 lb",
    standing: "seen",
    args: SOLVE,
    stdin: plan({ bag: bag({ N: 100 }) }, { per: "acre", N: "300 lb" }, { bed: { area: "2496 sq ft" } }),
    got: pounds("bag"),
    unit: "lb",
    expected: 17,
    within: 0.5,
  },
];

/** Any one of these sidedresses 30 ft of row: what each is said to weigh, for the 0.105 lb of N of the middle one. */
const sidedressing: Check[] = (
  [
    ["sodium nitrate, 16-0-0", 16, 2 / 3],
    ["urea, 46-0-0", 46, 4 / 16],
    ["ammonium sulfate, 21-0-0", 21, 1 / 2],
    ["blood meal, 12-1.5-0.6", 12, 14 / 16],
    ["a 30 % material", 30, 1 / 3],
  ] as const
).map(([label, percent, expected]) => ({
  what: `${label} for 0.105 lb of N`,
  source: KANSAS,
  standing: "seen",
  args: SOLVE,
  stdin: plan({ bag: bag({ N: percent }) }, { per: "bed", N: "0.105 lb" }),
  got: pounds("bag"),
  unit: "lb",
  expected,
  within: 0.1 * expected,
  why: "the weights are rounded to what a kitchen scale shows: 0.100 to 0.115 lb of N each",
}));

export const BAGS: readonly Check[] = [
  ...contents,
  ...smallAreas,
  ...several,
  ...others,
  ...tulsa("45-0-0", { N: 45 }, [2.2, 3.3]),
  ...tulsa("21-0-0", { N: 21 }, [4.8, 7.1, 14.3]),
  ...tulsa("16-4-8", { N: 16, P2O5: 4, K2O: 8 }, [6.2, 9.4, 18.8]),
  ...tulsa("10-10-10", { N: 10, P2O5: 10, K2O: 10 }, [10, 15, 30]),
  ...tulsa("5-10-10", { N: 5, P2O5: 10, K2O: 10 }, [20, 30, 60]),
  ...sidedressing,
];
