import { describe, expect, it } from "vitest";
import { shortWords } from "../../src/flow/purchase-advice.ts";
import type { OneBed as Shopping } from "../helpers/answers.ts";
import { bought as shopPlans } from "../helpers/answers.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { seeded } from "../helpers/random.ts";
import { shop as buy, DEMO, load, set } from "../helpers/shop.ts";

/** A pack on offer, and what a supplier asks to bring an order of some weight; null: it does not bring it. */
interface Offer {
  readonly id: string;
  readonly kg: number;
  readonly price: number;
  readonly seller: string;
}
type Charge = (kg: number) => number | null;

interface Case {
  readonly offers: readonly Offer[];
  /** Fractions of N and P2O5, all available, and what is needed of them, kg. */
  readonly analyses: Readonly<Record<string, { N: number; P2O5: number }>>;
  readonly need: { readonly N: number; readonly P2O5: number };
  readonly steps: Readonly<Record<string, readonly { upTo: number | null; price: number }[]>>;
}

const charge =
  (steps: Case["steps"][string]): Charge =>
  (kg) =>
    kg === 0 ? 0 : (steps.find(({ upTo }) => upTo === null || kg <= upTo)?.price ?? null);

/** Every choice of up to six packs of each, with its total (null: not delivered) and its worst shortfall. */
function* everyPurchase({
  offers,
  analyses,
  need,
  steps,
}: Case): Generator<{ total: number; short: number }> {
  const counts = offers.map(() => 0);
  for (;;) {
    const kgFrom = new Map<string, number>();
    let goods = 0;
    const supply = { N: 0, P2O5: 0 };
    offers.forEach(({ id, kg, price, seller }, k) => {
      goods += counts[k]! * price;
      if (counts[k]! > 0) kgFrom.set(seller, (kgFrom.get(seller) ?? 0) + counts[k]! * kg);
      supply.N += counts[k]! * kg * analyses[id]!.N;
      supply.P2O5 += counts[k]! * kg * analyses[id]!.P2O5;
    });
    const charges = [...kgFrom].map(([seller, kg]) => charge(steps[seller]!)(kg));
    // Nothing is capped: the best mix is everything that was bought.
    const short = Math.max(0, 1 - supply.N / need.N, 1 - supply.P2O5 / need.P2O5);
    if (!charges.includes(null))
      yield { total: goods + charges.reduce<number>((sum, c) => sum + (c ?? 0), 0), short };
    let k = 0;
    while (k < counts.length && counts[k] === 6) counts[k++] = 0;
    if (k === counts.length) return;
    counts[k]!++;
  }
}

function treeOf({ offers, analyses, need, steps }: Case): Record<string, unknown> {
  const ids = Object.keys(analyses);
  return {
    plan: "Short of money",
    units: "metric",
    amendments: Object.fromEntries(
      ids.map((id) => [
        id,
        {
          name: id,
          analysis: { N: analyses[id]!.N * 100, P2O5: analyses[id]!.P2O5 * 100 },
          release: "at-once",
          packs: offers
            .filter((offer) => offer.id === id)
            .map(({ kg, price, seller }) => ({ size: `${kg} kg`, price, supplier: seller })),
        },
      ]),
    ),
    target: {
      target: "Crop",
      season: "60 days",
      need: { per: "bed", counts: "applied", N: `${need.N} kg`, P2O5: `${need.P2O5} kg` },
    },
    suppliers: Object.fromEntries(
      Object.entries(steps).map(([id, list]) => [
        id,
        {
          steps: list.map(({ upTo, price }) => (upTo === null ? { price } : { up_to: `${upTo} kg`, price })),
        },
      ]),
    ),
  };
}

async function shop(one: Case, budget?: number): Promise<Shopping> {
  const found = await shopPlans([loadTree(treeOf(one))], budget === undefined ? {} : { budget });
  if (!found.ok) throw new Error(found.problems.map(({ message }) => message).join("; "));
  return found.value;
}

function randomCase(seed: number): Case {
  const r = seeded(seed * 31 + 7);
  const closed = (): Case["steps"][string] => [
    { upTo: r.whole(15, 30), price: r.whole(2, 6) },
    { upTo: r.whole(40, 70), price: r.whole(7, 15) },
    ...(r.chance(0.3) ? [{ upTo: null, price: r.whole(16, 40) }] : []),
  ];
  return {
    analyses: { meal: { N: 0.12, P2O5: 0.01 }, bone: { N: 0.03, P2O5: 0.2 } },
    offers: [
      { id: "meal", kg: 10, price: r.whole(15, 30), seller: "mill" },
      { id: "meal", kg: 10, price: r.whole(15, 60), seller: "barn" },
      { id: "bone", kg: 10, price: r.whole(12, 25), seller: "mill" },
      { id: "bone", kg: 5, price: r.whole(9, 40), seller: "barn" },
    ],
    need: { N: r.whole(30, 60) / 10, P2O5: r.whole(10, 40) / 10 },
    steps: { mill: closed(), barn: closed() },
  };
}

describe("the best that a budget buys, against every purchase of up to six packs of each", () => {
  it.each(Array.from({ length: 24 }, (_, k) => k + 1))("seed %i", async (seed) => {
    const one = randomCase(seed);
    const all = [...everyPurchase(one)];
    const least = all
      .filter(({ short }) => short <= 1e-9)
      .reduce((sum, { total }) => Math.min(sum, total), Infinity);
    const whole = await shop(one);
    if (least === Infinity) expect(whole.status).toBe("infeasible");
    else expect(whole.total).toBeCloseTo(least, 6);
    for (const part of [0.4, 0.7, 0.95]) {
      const budget = Math.floor((least === Infinity ? 200 : least) * part);
      const within = all.filter(({ total }) => total <= budget + 1e-9);
      const short = Math.min(...within.map((p) => p.short));
      const shopping = await shop(one, budget);
      if (short <= 1e-9) {
        expect(shopping.status).toBe("optimal");
        continue;
      }
      const best = shopping.best!;
      expect([seed, part, best.status]).toEqual([seed, part, "optimal"]);
      expect(best.shortfall.fraction).toBeCloseTo(short, 6);
      expect(best.leastShortfall).toBeCloseTo(short, 5);
      expect(best.total).toBeLessThanOrEqual(budget + 1e-9);
      const cheapest = Math.min(...within.filter((p) => p.short <= short + 1e-7).map((p) => p.total));
      expect(best.total).toBeCloseTo(cheapest, 6);
      expect(shopping.conflicts[0]!.text).toContain("The best that the money buys FALLS SHORT of");
    }
  });
});

describe("a delivery that ends at a weight, and a budget", () => {
  // The mill is cheap and brings 20 kg at most; the barn is dear and brings anything. By weight the mix costs 5 x 15.
  const CASE: Case = {
    analyses: { meal: { N: 0.1, P2O5: 0.1 } },
    offers: [
      { id: "meal", kg: 10, price: 15, seller: "mill" },
      { id: "meal", kg: 10, price: 100, seller: "barn" },
    ],
    need: { N: 5, P2O5: 5 },
    steps: { mill: [{ upTo: 20, price: 1 }], barn: [{ upTo: null, price: 10 }] },
  };

  it("looks for as much as the budget buys, not for what the cheap supplier would have asked", async () => {
    // All needs: 2 x 15 + 1 + 3 x 100 + 10 = 341. With 240: two from each, 30 + 1 + 200 + 10 = 241 is too much; so two and one.
    expect((await shop(CASE)).total).toBeCloseTo(341, 9);
    const { best } = await shop(CASE, 240);
    expect(best).toMatchObject({ status: "optimal", total: 141 });
    expect(best!.shortfall.fraction).toBeCloseTo(0.4, 9);
    const more = (await shop(CASE, 241)).best!;
    expect(more.total).toBeCloseTo(241, 9);
    expect(more.shortfall.fraction).toBeCloseTo(0.2, 9);
  });

  it("says what is the best found where the proof did not come in time", async () => {
    const US = { currency: "USD", units: "metric" } as const;
    const best = (await shop(CASE, 241)).best!;
    expect(shortWords(best, US)).toBe(
      "The best that the money buys FALLS SHORT of N by 20.0%: 2 x 10 kg (mill) + 2 x 10 kg (barn) of meal. That is $241.00 with delivery.",
    );
    expect(shortWords({ ...best, status: "found", leastShortfall: 0.1 }, US)).toBe(
      "The best found in time for the money FALLS SHORT of N by 20.0% (none falls short by less than 10.0%): 2 x 10 kg (mill) + 2 x 10 kg (barn) of meal. That is $241.00 with delivery.",
    );
  });
});

describe("a budget too small for how sure a mix is to be", () => {
  const sure = load(DEMO, [set("sure", "90%")]);

  it("gets what the plan without it buys, and is told that this is not as sure", async () => {
    const enough = await buy(load(DEMO));
    const dearer = await buy(sure);
    expect(dearer.total!).toBeGreaterThan(enough.total!);
    const { best, conflicts } = await buy(sure, { budget: (enough.total! + dearer.total!) / 2 });
    expect(best).toMatchObject({ total: enough.total, shortfall: { nutrient: null, fraction: 0 } });
    expect(conflicts[0]!.text).toContain("meets each need on the average, NOT as surely as asked");
    expect(conflicts[0]!.text).toContain(`the least that would do is $${dearer.total!.toFixed(2)},`);
  });

  it("falls as short on the average as the plan without it", async () => {
    const [with90, without] = [await buy(sure, { budget: 150 }), await buy(load(DEMO), { budget: 150 })];
    expect(with90.best!.shortfall.fraction).toBeCloseTo(without.best!.shortfall.fraction, 6);
  });
});
