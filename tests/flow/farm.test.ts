/** One shed, many beds, few mixes: against what is written apart from the project. More of each in `npm run check -- farm`. */
import { describe, expect, it } from "vitest";
import { bedKg, checkFarm, type FarmSearch, type Rung } from "../../src/flow/farm.ts";
import type { FarmBed } from "../../src/flow/farm-beds.ts";
import { buyForGroups } from "../../src/flow/farm-purchase.ts";
import { Deadline } from "../../src/flow/purchase.ts";
import { divisions, enumerated, exactValues, faultsOf, searchOf, solvedFarm } from "../helpers/check-farm.ts";
import { cheapest, type FarmSpec, randomFarm } from "../helpers/random-farm.ts";
import { packsTotal, searchedCost } from "../helpers/reference-farm.ts";
import { seeds, slow } from "../helpers/seeds.ts";

const rungOf = async (search: FarmSearch, most: number): Promise<Rung> => {
  const rung = await search.rung(most);
  if (!("purchase" in rung)) throw new Error(JSON.stringify(rung));
  return rung;
};

describe("one mix for many beds, by weight", () => {
  it.each(seeds([12], [6, 7, 12]))(
    "farm %d: a search over shares and rates finds none better, and comes as far",
    async (seed) => {
      const spec = randomFarm(seed, { beds: 6 });
      const solved = await solvedFarm(spec);
      const { purchase } = await rungOf(searchOf(solved, "weight"), 1);
      const searched = await searchedCost(spec, seed, 2);
      expect(searched).not.toBeNull();
      expect(purchase.cost).toBeLessThan(searched! * (1 + 1e-6));
      expect(purchase.cost).toBeGreaterThan(searched! * (1 - 1e-5));
      expect(purchase.bound).toBeLessThan(purchase.cost * (1 + 1e-9));
      expect(purchase.bound).toBeGreaterThan(purchase.cost * (1 - 1e-6));
      expect(faultsOf(spec, purchase)).toEqual([]);
    },
  );

  it("two beds by hand: one asks nitrogen, the other as much potash, and two materials bring one each", async () => {
    // A kg of mix with part c of the nitrogen: east needs 1/c kg, west 1/(1 - c), at 1 and 4 a kg. The cost of both,
    // (c + 4 (1 - c)) (1/c + 1/(1 - c)) = (4 - 3c) / (c (1 - c)), is least where 3c^2 - 8c + 4 = 0: c = 2/3, and is 9.
    const bring = (n: 0 | 2): [number, number, number] => (n === 0 ? [0.1, 0, 0] : [0, 0, 0.1]);
    const material = (id: string, n: 0 | 2, perKg: number) => ({
      id,
      analysis: bring(n),
      available: [1, 1, 1] as const,
      perKg,
      packs: [{ kg: 1, price: perKg }],
      stockKg: 0,
    });
    const bed = (name: string, n: 0 | 2) => ({
      name,
      areaM2: 1,
      need: bring(n),
      cap: [null, null, null] as const,
      half: null,
      share: null,
    });
    const spec: FarmSpec = {
      materials: [material("nitrogen", 0, 1), material("potash", 2, 4)],
      beds: [bed("east", 0), bed("west", 2)],
    };
    const { purchase } = await rungOf(searchOf(await solvedFarm(spec), "weight"), 1);
    expect(purchase.cost).toBeCloseTo(9, 6);
    const [heap] = purchase.mixes;
    expect(heap!.heapKg[0]! / heap!.heapKg[1]!).toBeCloseTo(2, 3);
    // Kg for the beds: 1/c = 1.5 and 1/(1 - c) = 3.
    expect(heap!.shares[0]!).toBeCloseTo(1 / 3, 3);
    // In whole kg: 3 + 2 costs 11 and feeds (1/3 + 1/2 of it), 3 + 1 costs 7 and does not (1/3 + 1), 2 + 2 costs 10 and just does.
    const bags = await rungOf(searchOf(await solvedFarm(spec), "purchase"), 1);
    expect(bags.purchase.cost).toBeCloseTo(10, 8);
  });
});

describe("few mixes", () => {
  it.each([2, 4, 5, 7, 11])(
    "farm %d: two and three cost what the best of all divisions does",
    async (seed) => {
      const spec = randomFarm(seed, { beds: 7 });
      const solved = await solvedFarm(spec);
      for (const most of [2, 3]) {
        const { purchase, bound } = await rungOf(searchOf(solved, "weight"), most);
        const best = enumerated(solved, most);
        expect(purchase.cost / best).toBeCloseTo(1, 6);
        expect(bound).toBeLessThanOrEqual(purchase.cost * (1 + 1e-9));
        expect(bound).toBeGreaterThan(purchase.cost * (1 - 1e-6));
        expect(faultsOf(spec, purchase)).toEqual([]);
      }
    },
  );

  slow(
    "costs no more with one mix more, in bags too, and never less than the beds by themselves",
    async () => {
      for (const seed of [3, 5]) {
        const spec = randomFarm(seed, { beds: 6, stocked: true });
        const solved = await solvedFarm(spec);
        for (const by of ["weight", "purchase"] as const) {
          const search = searchOf(solved, by);
          let before = Infinity;
          for (let most = 1; most <= search.kinds.length; most++) {
            const rung = await search.rung(most);
            if (!("purchase" in rung)) continue;
            expect(rung.purchase.cost).toBeLessThanOrEqual(before + 1e-9);
            expect(rung.purchase.cost).toBeGreaterThan(search.ownCost * (1 - 1e-9));
            expect(rung.bound).toBeLessThanOrEqual(rung.purchase.cost + 1e-9);
            before = rung.purchase.cost;
          }
        }
      }
    },
  );

  it("puts pinned beds together and lets others join them", async () => {
    const spec = randomFarm(4, { beds: 6 });
    const solved = await solvedFarm(spec);
    const pins = ["B", "", "", "B", "", ""].map((pin) => pin || undefined) as string[];
    const free = await rungOf(searchOf(solved, "weight"), 2);
    const pinned = await rungOf(searchOf(solved, "weight", { pins }), 2);
    expect(pinned.groups.find((group) => group.includes(0))).toContain(3);
    expect(pinned.purchase.cost).toBeGreaterThan(free.purchase.cost * (1 - 1e-9));
  });

  it("names a smallest set of beds that no mix feeds together, and how many mixes can", async () => {
    // The tomato's cap on phosphate is below what the squash needs for each kg of nitrogen.
    const base = randomFarm(12, { beds: 3, materials: 6 });
    const [a, b, c] = base.beds;
    const spec: FarmSpec = {
      ...base,
      beds: [
        { ...a!, need: [0.02, 0, 0], cap: [null, 0.0001, null], share: null, half: null },
        { ...b!, need: [0.001, 0.02, 0], cap: [0.002, null, null], share: null, half: null },
        { ...c!, need: [0.02, 0, 0.001], cap: [null, null, null], share: null, half: null },
      ],
    };
    const materials = spec.materials.map((material, m) => ({
      ...material,
      analysis: (
        [
          [0.12, 0, 0],
          [0, 0.2, 0],
          [0, 0, 0.2],
          [0.04, 0.03, 0],
          [0.05, 0.03, 0],
          [0.03, 0.02, 0],
        ] as const
      )[m]!,
    }));
    const solved = await solvedFarm({ ...spec, materials });
    expect(solved.without).toBe(false);
    const none = await searchOf(solved, "purchase").rung(1);
    expect(none).toEqual({ apart: [0, 1], fewest: 2 });
  });
});

describe("whole bags for many beds", () => {
  it.each(seeds([], [4]))("farm %d: costs what HiGHS says of the same division", async (seed) => {
    const spec = randomFarm(seed, { beds: 4, materials: 6, stocked: true });
    const solved = await solvedFarm(spec);
    for (const most of [1, 2]) {
      const { groups, purchase } = await rungOf(searchOf(solved, "purchase"), most);
      expect(purchase.proven).toBe(true);
      const other = await packsTotal(spec, groups);
      // Prices are whole; HiGHS lets shares add to 1.0000001.
      expect(purchase.cost).toBeCloseTo(other!, 4);
      expect(faultsOf(spec, purchase)).toEqual([]);
    }
  });

  it.each(
    seeds(
      [[8, 1]],
      [
        [8, 1],
        [16, 2],
      ],
    ),
  )("farm %d: takes the mixes of fewest materials that the same money buys", async (seed, most) => {
    // On these farms there are mixes of more materials for the same total.
    const spec = randomFarm(seed, { beds: 4, materials: 6, stocked: true });
    const search = searchOf(await solvedFarm(spec), "purchase");
    const rung = await rungOf(search, most);
    const { groups, purchase } = await search.settled(rung);
    expect(purchase.settled).toBe(true);
    expect(purchase.cost).toBeCloseTo(rung.purchase.cost, 2);
    expect(faultsOf(spec, purchase, 2e-9)).toEqual([]);
    const used = spec.materials.filter((_, a) => purchase.mixes.some(({ heapKg }) => heapKg[a]! > 1e-9));
    expect(used.length).toBe(Math.round((await packsTotal(spec, groups, purchase.cost))!));
  });

  slow("no division costs less than the bound that is told of two mixes", async () => {
    for (const seed of [4, 6, 11]) {
      const solved = await solvedFarm(randomFarm(seed, { beds: 4, materials: 6, stocked: true }));
      const { bound, purchase } = await rungOf(searchOf(solved, "purchase"), 2);
      const { beds, prices } = solved.farm;
      const totals: number[] = [];
      for (const groups of divisions(beds.length, 2)) {
        const found = await buyForGroups({
          ...{ beds, prices, groups, amendments: solved.amendments, suppliers: [], demands: {} },
          deadline: new Deadline(1e6, () => 0),
        });
        if ("mixes" in found) totals.push(found.cost);
      }
      expect(totals.length).toBeGreaterThan(2);
      expect(bound).toBeLessThanOrEqual(Math.min(...totals) + 1e-6);
      expect(bound).toBeGreaterThan(0.9 * purchase.cost);
    }
  });
});

describe("faults put in on purpose", () => {
  const seed = 4;
  const buyWith = async (change: (beds: readonly FarmBed[]) => readonly FarmBed[]) => {
    const spec = randomFarm(seed, { beds: 6, materials: 8, stocked: true });
    const solved = await solvedFarm(spec);
    const beds = change(solved.farm.beds);
    let ticks = 0;
    const purchase = await buyForGroups({
      beds,
      groups: [beds.map((_, b) => b)],
      amendments: solved.amendments,
      suppliers: [],
      demands: {},
      deadline: new Deadline(1e6, () => ticks++),
      prices: solved.farm.prices,
    });
    if (!("mixes" in purchase)) throw new Error(JSON.stringify(purchase));
    return { ...solved, purchase };
  };
  const ownCost = (beds: readonly FarmBed[]): number =>
    beds.reduce((sum, { solved }) => sum + solved.answer.check.cost, 0);

  it("the farm as it is has none", async () => {
    const { spec, purchase, farm, amendments } = await buyWith((beds) => beds);
    expect(faultsOf(spec, purchase)).toEqual([]);
    expect(() => checkFarm(farm.beds, purchase, amendments, ownCost(farm.beds))).not.toThrow();
  });

  it("a cap that is forgotten is seen at the beds", async () => {
    const { spec, purchase, farm, amendments } = await buyWith((beds) =>
      beds.map((bed) => {
        const rows = bed.asks.rows.filter(
          ({ tag }) => tag.kind !== "applied-max" && tag.kind !== "share-max",
        );
        return { ...bed, asks: { ...bed.asks, rows } };
      }),
    );
    expect(faultsOf(spec, purchase).join()).toMatch(/misses <=/);
    expect(() => checkFarm(farm.beds, purchase, amendments, 0)).toThrow("is not fed as asked");
  });

  it("a bed that is left out of the purchase is seen at the bags", async () => {
    const { spec, purchase, farm, amendments } = await buyWith((beds) => beds);
    // The last bed is fed as well as the first, from nothing.
    const mix = purchase.mixes[0]!;
    const [first, ...rest] = mix.beds;
    const last = rest.pop()!;
    const short = {
      ...purchase,
      mixes: [{ ...mix, beds: [first!, ...rest, last], shares: [...mix.shares.slice(0, -1), 0] }],
    };
    expect(faultsOf(spec, short).join()).toMatch(/misses >=/);
    expect(() => checkFarm(farm.beds, short, amendments, 0)).toThrow("is not fed as asked");
    const more = { ...purchase, mixes: [{ ...mix, heapKg: mix.heapKg.map((kg) => 1.2 * kg) }] };
    expect(faultsOf(spec, more).join()).toMatch(/kg of/);
    expect(bedKg(more, 0)[0]).toBeCloseTo(1.2 * bedKg(purchase, 0)[0]!, 12);
  });

  it("stock that is used twice is seen at the bags and at the money", async () => {
    const spec = randomFarm(seed, { beds: 6, materials: 8, stocked: true });
    const solved = await solvedFarm(spec);
    const doubled = solved.amendments.map((one) => ({ ...one, stockKg: 2 * one.stockKg }));
    let ticks = 0;
    const purchase = await buyForGroups({
      beds: solved.farm.beds,
      groups: [solved.farm.beds.map((_, b) => b)],
      amendments: doubled,
      suppliers: [],
      demands: {},
      deadline: new Deadline(1e6, () => ticks++),
      prices: solved.farm.prices,
    });
    if (!("mixes" in purchase)) throw new Error(JSON.stringify(purchase));
    expect(spec.materials.some(({ stockKg, packs }) => stockKg > 0 && cheapest({ packs } as never) > 0)).toBe(
      true,
    );
    expect(faultsOf(spec, purchase).join()).toMatch(/kg of/);
    expect(() => checkFarm(solved.farm.beds, purchase, solved.amendments, 0)).toThrow(
      /is used than there is/,
    );
  });

  it("goods below what the beds cost by themselves are refused", async () => {
    const { purchase, farm, amendments } = await buyWith((beds) => beds);
    const cheap = amendments.map((one) => ({
      ...one,
      packs: one.packs.map((pack) => ({ ...pack, price: pack.price / 4 })),
    }));
    expect(() => checkFarm(farm.beds, purchase, cheap, ownCost(farm.beds))).toThrow("costs less than");
  });

  it("values of sets never fall below the sum of their parts", async () => {
    const solved = await solvedFarm(randomFarm(6, { beds: 6 }));
    const { beds, value } = exactValues(solved);
    for (let a = 0; a < beds.length; a++)
      for (let b = a + 1; b < beds.length; b++)
        expect(value([a, b]).cost).toBeGreaterThan((beds[a]!.own + beds[b]!.own) * (1 - 1e-9));
  });
});
