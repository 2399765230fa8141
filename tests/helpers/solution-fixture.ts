/**
 * A made-up answer of `solve` for the tests of the renderers: eight materials, three rounds, US units. The
 * weights are invented and round; what follows from them is worked out here, not by the program.
 */
import type { Amendment, Plan } from "../../src/model.ts";
import type { Batches, Round, Solution } from "../../src/results/solution.ts";

const LB = 0.45359237;
const FT = 0.3048;

const MATERIALS: readonly (readonly [
  id: string,
  name: string,
  lb: number,
  dollarsPerLb: number,
  kgPerL: number,
])[] = [
  ["alfalfa-meal", "Alfalfa meal", 36, 0.62, 0.3],
  ["blood-meal", "Blood meal", 12, 1.9, 0.61],
  ["bone-meal-steamed", "Bone meal, steamed", 24, 0.95, 0.88],
  ["borax", "Borax", 0.3, 2.4, 0.9],
  ["feather-meal", "Feather meal", 30, 0.77, 0.55],
  ["kelp-meal", "Kelp meal", 6, 1.45, 0.64],
  ["langbeinite", "Langbeinite", 27, 0.7, 1.5],
  ["poultry-pellets", "Poultry litter, pelleted", 60, 0.28, 0.7],
];

const BATCHES = 4;
const SHARES: readonly (readonly [name: string, day: number, share: number])[] = [
  ["planting", 0, 0.5],
  ["two weeks", 14, 0.25],
  ["fruit set", 45, 0.25],
];

const PLANTS = 240;
const ROW_M = 6 * 60 * FT;
const STOCK_LB: Readonly<Record<string, number>> = { "kelp-meal": 6, "bone-meal-steamed": 10 };

const total = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0);

function amendment([id, name, , price, density]: (typeof MATERIALS)[number]): Amendment {
  return {
    id,
    name,
    analysis: { N: 0.05 },
    packs: [{ sizeKg: 50 * LB, price: 50 * price }],
    release: {
      byNutrient: {},
      other: {
        label: "at-once",
        curve: { kind: "pool", atOnce: 1, later: 0, halfLifeDays: 1, q10: 1, referenceC: 25 },
      },
    },
    densityKgPerL: density,
    stockKg: (STOCK_LB[id] ?? 0) * LB,
    organic: "unknown",
  };
}

/** A batch of the mix, to a quarter of a pound as the scale of the plan shows it; borax keeps one step. */
function batches(): Batches {
  const weights = MATERIALS.map(([id, , lb, , density]) => {
    const kg = Math.max(0.25, Math.round(lb / BATCHES / 0.25) * 0.25) * LB;
    return { id, kg, mL: (kg / density) * 1000 };
  });
  return {
    count: BATCHES,
    kgEach: total(weights.map(({ kg }) => kg)),
    litresEach: total(weights.map(({ mL }) => mL)) / 1000,
    weights,
  };
}

function round([name, day, share]: (typeof SHARES)[number]): Round {
  const kg = total(MATERIALS.map(([, , lb]) => lb * LB)) * share;
  const litres = total(MATERIALS.map(([, , lb, , density]) => (lb * LB) / density)) * share;
  return {
    name,
    day,
    date: null,
    mix: "A",
    kg,
    litres,
    batchesTaken: BATCHES * share,
    alone: [],
    perPlant: { g: (kg * 1000) / PLANTS, mL: (litres * 1000) / PLANTS },
    perRowMeter: { g: (kg * 1000) / ROW_M, mL: (litres * 1000) / ROW_M },
    perSquareMeter: { g: null, mL: null },
  };
}

/** The plan that the fixture answers. */
export function fixturePlan(): Plan {
  return {
    name: "Quarry Field melons",
    currency: "USD",
    units: "us",
    amendments: MATERIALS.map(amendment),
    leftOut: [],
    targetName: "Muskmelon, field",
    seasonDays: 110,
    demands: [],
    bed: { plants: PLANTS, areaM2: 1500 * FT * FT, rows: 6, rowLengthM: 60 * FT },
    credits: [],
    applications: SHARES.map(([name, day, share]) => ({ name, day, share })),
    blend: "one",
    batch: { kg: 100 * LB },
    scaleKg: 0.25 * LB,
    limits: [],
    suppliers: [],
    warnings: [],
  };
}

/** The optimal answer. */
export function fixtureSolution(): Solution {
  const kg = total(MATERIALS.map(([, , lb]) => lb * LB));
  const purchases = MATERIALS.map(([id, name, lb, price]) => {
    const stock = STOCK_LB[id] ?? 0;
    const count = Math.ceil((lb - stock) / 50);
    return {
      id,
      name,
      supplier: null,
      placeholder: false,
      packs: count > 0 ? [{ sizeKg: 50 * LB, count, price: 50 * price }] : [],
      bulkKg: 0,
      boughtKg: count * 50 * LB,
      usedKg: lb * LB,
      stockKg: stock * LB,
      leftKg: (count * 50 + stock - lb) * LB,
      leftWorth: (count * 50 + stock - lb) * price,
      cost: count * 50 * price,
    };
  });
  const money = total(purchases.map(({ cost }) => cost));
  return {
    schema: "barrowmix.solution/2",
    status: "optimal",
    name: "Quarry Field melons",
    by: "purchase",
    currency: "USD",
    units: "us",
    cost: {
      total: money,
      goods: money,
      delivery: 0,
      byWeight: total(MATERIALS.map(([id, , lb, price]) => (lb - (STOCK_LB[id] ?? 0)) * price)),
      perPlant: money / PLANTS,
      bound: money,
      gap: 0,
    },
    mixes: [
      {
        name: "A",
        kg,
        analysis: { N: 0.05 },
        materials: MATERIALS.map(([id, name, lb]) => ({
          id,
          name,
          kg: lb * LB,
          share: (lb * LB) / kg,
          stockKg: (STOCK_LB[id] ?? 0) * LB,
        })),
        batches: batches(),
      },
    ],
    purchases,
    suppliers: [{ id: null, goods: money, delivery: 0, freeFrom: null }],
    beds: [
      {
        bed: "Quarry Field melons",
        target: "Muskmelon, field",
        plants: PLANTS,
        areaM2: 1500 * FT * FT,
        bedsAlike: 1,
        cost: money,
        rounds: SHARES.map(round),
        binding: ["N"],
        conflicts: [],
        cautions: [],
        warnings: [],
        nutrients: [
          {
            nutrient: "N",
            minKg: 6 * LB,
            maxKg: 8 * LB,
            appliedMaxKg: null,
            aheadMaxKg: 2.5 * LB,
            counts: "available",
            efficiency: 1,
            countedKg: 6 * LB,
            availableKg: 6 * LB,
            appliedKg: 8.4 * LB,
            creditKg: 0.9 * LB,
            creditInAllKg: 0.9 * LB,
            checkpoints: [
              { day: 14, needKg: 0.28 * LB, availableKg: 2.1 * LB },
              { day: 45, needKg: 1.8 * LB, availableKg: 4.1 * LB },
              { day: 110, needKg: 6 * LB, availableKg: 6 * LB },
            ],
            shadowPricePerKg: null,
          },
          {
            nutrient: "P2O5",
            minKg: 2.25 * LB,
            maxKg: null,
            appliedMaxKg: 9 * LB,
            aheadMaxKg: null,
            counts: "available",
            efficiency: 1,
            countedKg: 4.2 * LB,
            availableKg: 4.2 * LB,
            appliedKg: 7.9 * LB,
            creditKg: 0.1 * LB,
            creditInAllKg: 0.1 * LB,
            checkpoints: [{ day: 110, needKg: 2.25 * LB, availableKg: 4.2 * LB }],
            shadowPricePerKg: null,
          },
          {
            nutrient: "K2O",
            minKg: 7.5 * LB,
            maxKg: null,
            appliedMaxKg: null,
            aheadMaxKg: null,
            counts: "available",
            efficiency: 1,
            countedKg: 7.5 * LB,
            availableKg: 7.5 * LB,
            appliedKg: 7.5 * LB,
            creditKg: 0,
            creditInAllKg: 0,
            checkpoints: [
              { day: 14, needKg: 0.35 * LB, availableKg: 3.75 * LB },
              { day: 45, needKg: 2.25 * LB, availableKg: 5.6 * LB },
              { day: 110, needKg: 7.5 * LB, availableKg: 7.5 * LB },
            ],
            shadowPricePerKg: null,
          },
          {
            nutrient: "B",
            minKg: 0.03 * LB,
            maxKg: 0.05 * LB,
            appliedMaxKg: null,
            aheadMaxKg: null,
            counts: "available",
            efficiency: 1,
            countedKg: 0.034 * LB,
            availableKg: 0.034 * LB,
            appliedKg: 0.034 * LB,
            creditKg: 0,
            creditInAllKg: 0,
            checkpoints: [{ day: 110, needKg: 0.03 * LB, availableKg: 0.034 * LB }],
            shadowPricePerKg: null,
          },
        ],
      },
    ],
    rounding: {
      scaleKg: 0.25 * LB,
      worstShortfall: { nutrient: "N", fraction: 0.0042 },
      worstBreach: null,
    },
    verification: { engine: "simplex", maxViolation: 2e-15, dualBound: money },
    conflicts: [],
    cautions: [
      { code: "dust", text: "Wear a dust mask and gloves, and mix outdoors with the wind at your back." },
    ],
    warnings: [
      {
        code: "release-absent",
        text: "Alfalfa meal has no release in the file: it counts as available at once.",
      },
    ],
    inputs: { by: "purchase", plans: [fixturePlan()] },
  };
}

/** The answer for a plan that cannot be met. */
export function infeasibleFixture(): Solution {
  const solution = fixtureSolution();
  const conflicts = [
    {
      text: "N cannot be met by day 45 without P2O5 above 4 lb or more feather meal.",
      demands: [
        "at least 1.8 lb of N available by day 45",
        "at most 4 lb of P2O5 applied",
        "at most 30% of Feather meal in the mix",
      ],
    },
  ];
  const none = { total: null, goods: null, delivery: null, byWeight: null, perPlant: null };
  return {
    ...solution,
    status: "infeasible",
    cost: { ...none, bound: null, gap: null },
    mixes: [],
    beds: solution.beds.map((bed) => ({ ...bed, cost: null, nutrients: [], rounds: [], conflicts })),
    purchases: [],
    suppliers: [],
    cautions: [],
    conflicts,
  };
}
