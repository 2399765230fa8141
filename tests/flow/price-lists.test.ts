/** Prices of several suppliers: lists and single changes, and what is bought then. Totals are worked out by hand. */
import { describe, expect, it } from "vitest";
import { readPriceList } from "../../src/files/price-list.ts";
import { changePlan } from "../../src/flow/changes.ts";
import { applyPriceList, cheapestOf } from "../../src/flow/price-lists.ts";
import type { Plan } from "../../src/model.ts";
import type { Problem } from "../../src/problem.ts";
import { parsePriceChange } from "../../src/units.ts";
import { bought as shopPlans } from "../helpers/answers.ts";
import { loadTree } from "../helpers/load-tree.ts";

/** 3 kg of N from meal with 10 %: three packs of 10 kg, or six of 5 kg. */
const PLAN: Plan = loadTree({
  plan: "Offers",
  units: "metric",
  amendments: {
    meal: {
      name: "Meal",
      analysis: { N: 10 },
      release: "at-once",
      supplier: "mill",
      packs: [
        { size: "10 kg", price: 20 },
        { size: "10 kg", price: 18, supplier: "barn" },
        { size: "5 kg", price: 12, supplier: "barn" },
      ],
    },
  },
  target: { target: "Crop", season: "60 days", need: { per: "bed", N: "3 kg" } },
  suppliers: { mill: { delivery: 5 }, barn: { delivery: 14 } },
});

const offers = (plan: Plan) =>
  plan.amendments[0]!.packs.map(
    ({ sizeKg, price, supplier }) => `${sizeKg} kg ${price} ${supplier ?? plan.amendments[0]!.supplier}`,
  );

function list(csv: string, plan = PLAN) {
  const rows = readPriceList(csv, "list.csv");
  if (!rows.ok) throw new Error(rows.problems[0]!.message);
  return applyPriceList(plan, rows.value, false);
}

async function total(plan: Plan): Promise<number | null> {
  const found = await shopPlans([plan]);
  if (!found.ok) throw new Error("the plan is fine");
  return found.value.total;
}

const described = ({ code, place, message }: Problem) => `${code} ${place?.line}:${place?.column} ${message}`;

describe("a price list of several suppliers", () => {
  it("is the whole offer of what it names, each row from its supplier", async () => {
    // Today: mill 3 x 20 + 5 = 65, barn 3 x 18 + 14 = 68.
    expect(await total(PLAN)).toBeCloseTo(65, 9);
    const changed = list("id,size,price,supplier\nmeal,10 kg,22,mill\nmeal,10 kg,17,barn\n");
    if (!changed.ok) throw new Error("the list is fine");
    expect(offers(changed.value.plan)).toEqual(["10 kg 22 mill", "10 kg 17 barn"]);
    // Mill 66 + 5 = 71, barn 51 + 14 = 65.
    expect(await total(changed.value.plan)).toBeCloseTo(65, 9);
    expect(changed.value.notes).toEqual([]);
  });

  it("says which suppliers fall away, and whose delivery is not known", () => {
    const changed = list("id,size,price,supplier\nmeal,10 kg,22,store\n");
    if (!changed.ok) throw new Error("the list is fine");
    expect(offers(changed.value.plan)).toEqual(["10 kg 22 store"]);
    expect(changed.value.notes).toEqual([
      "meal is sold as the list says, and no longer by mill and barn: the list does not have that offer.",
      "The plan does not say what store charges for delivery: it counts as nothing.",
    ]);
  });

  it("keeps the supplier of a size that only one sells, and asks where two do", () => {
    const changed = list("id,size,price\nmeal,5 kg,11\n");
    expect(changed.ok && offers(changed.value.plan)).toEqual(["5 kg 11 barn"]);
    const refused = list("id,size,price\nmeal,5 kg,11\nmeal,10 kg,19\n");
    expect(refused.ok ? [] : refused.problems.map(described)).toEqual([
      "supplier-ambiguous 3:6 `10 kg` of meal is sold by mill and barn; the row does not say whose price it is",
    ]);
  });

  it("stands beside another list with every offer of both", async () => {
    const a = list("id,size,price,supplier\nmeal,10 kg,30,mill\nmeal,per kg,2.5,mill\n");
    const b = list("id,size,price,supplier\nmeal,10 kg,19,barn\n");
    if (!a.ok || !b.ok) throw new Error("the lists are fine");
    const both = cheapestOf(PLAN, [a.value, b.value]).plan;
    expect(offers(both)).toEqual(["10 kg 30 mill", "10 kg 19 barn"]);
    expect(both.amendments[0]!).toMatchObject({ supplier: "mill", bulkPricePerKg: 2.5 });
    // Barn 57 + 14 = 71; 30 kg loose from mill 75 + 5 = 80; two packs and 10 kg loose 38 + 14 + 25 + 5 = 82.
    expect(await total(both)).toBeCloseTo(71, 9);
  });
});

describe("the price of one supplier", () => {
  const changed = (...texts: string[]) => {
    const price = texts.map((text) => {
      const read = parsePriceChange(text);
      if (!read.ok) throw new Error(text);
      return read.value;
    });
    return changePlan(PLAN, { price: { meal: price }, exclude: [] }, "--price");
  };

  it.each([
    [["+10% from barn"], ["10 kg 20 mill", "10 kg 19.8 barn", "5 kg 13.2 barn"]],
    [["1.5/kg from barn"], ["10 kg 20 mill", "10 kg 15 barn", "5 kg 10 barn"]],
    [["17/10 kg from barn"], ["10 kg 20 mill", "10 kg 17 barn", "5 kg 12 barn"]],
    [["40/25 kg from barn"], ["10 kg 20 mill", "25 kg 40 barn"]],
    [["11/5 kg"], ["10 kg 20 mill", "10 kg 18 barn", "5 kg 11 barn"]],
    [
      ["50/25 kg from mill", "24/10 kg from mill"],
      ["25 kg 50 mill", "10 kg 24 mill", "10 kg 18 barn", "5 kg 12 barn"],
    ],
    [["+100%"], ["10 kg 40 mill", "10 kg 36 barn", "5 kg 24 barn"]],
  ])("%j", (texts, wanted) => {
    const result = changed(...texts);
    if (!result.ok) throw new Error(result.problems[0]!.message);
    const round = (text: string) => text.replace(/\d+\.\d{3,}/, (n) => String(Number(Number(n).toFixed(6))));
    expect(offers(result.value.plan).map(round).sort()).toEqual([...wanted].sort());
  });

  it.each([
    ["48/10 kg", "supplier-ambiguous", "`meal` is sold by mill and barn"],
    ["48/25 kg", "supplier-ambiguous", "`48/50 lb from mill`"],
    ["48/25 kg from bran", "supplier-unknown", "did you mean `barn`?"],
    ["+5% from nobody-here", "supplier-unknown", "there are barn, mill"],
  ])("%s is refused", (text, code, words) => {
    const result = changed(text);
    expect(result.ok ? [] : result.problems.map((p) => p.code)).toEqual([code]);
    expect(result.ok ? "" : `${result.problems[0]!.message}; ${result.problems[0]!.hint}`).toContain(words);
  });

  it("is bought from that supplier, with its delivery", async () => {
    // Mill at 24: 72 + 5 = 77; barn 54 + 14 = 68.
    const dear = changed("24/10 kg from mill");
    expect(dear.ok && (await total(dear.value.plan))).toBeCloseTo(68, 9);
    // 30 kg in one bag of mill at 40 + 5.
    const bag = changed("40/30 kg from mill");
    expect(bag.ok && (await total(bag.value.plan))).toBeCloseTo(45, 9);
    expect(bag.ok && bag.value.notes).toEqual([
      "meal is sold as `--price` says, and in no other size by mill; what others sell stays as it is.",
    ]);
  });
});
