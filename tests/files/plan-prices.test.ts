/** Price lists that a plan names, and prices of one's own over those that ship. Totals are worked out by hand. */
import { describe, expect, it } from "vitest";
import { checkFiles, loadPlan, type PlanRequest } from "../../src/files/load.ts";
import { solvePlan } from "../../src/library.ts";
import type { Plan } from "../../src/model.ts";
import { formatProblems } from "../../src/problem.ts";
import { placeholderNotice } from "../../src/words/placeholder-words.ts";
import { bought as shopPlans } from "../helpers/answers.ts";
import { diskReader, memoryReader } from "../helpers/files.ts";
import { ROOT } from "../helpers/world.ts";

const LB = 0.45359237;
const WHERE = { cwd: "/g", recipesDir: `${ROOT}/recipes` };
const MEALS = {
  meal: {
    name: "Meal",
    analysis: { N: 10 },
    release: "at-once",
    packs: [{ size: "10 kg", price: 99 }],
    placeholder: true,
  },
  ash: { name: "Wood ash", analysis: { K2O: 6 }, release: "at-once", bulk: { price: 0.4, per: "kg" } },
  seed: { name: "Seed meal", analysis: { N: 5 }, release: "at-once" },
};
/** 3 kg of N: 30 kg of meal, or 60 kg of seed meal. */
const PLAN = {
  plan: "two stores",
  units: "metric",
  amendments: MEALS,
  target: { target: "Crop", season: "60 days", need: { per: "bed", N: "3 kg" } },
};

/** Files in a folder, with those that ship behind them. */
function reader(files: Readonly<Record<string, string>>) {
  const own = memoryReader(files);
  return {
    ...own,
    read: (path: string) => own.read(path) ?? (path.startsWith(ROOT) ? diskReader.read(path) : null),
  };
}

function load(plan: object, lists: Record<string, string> = {}, more: Partial<PlanRequest> = {}) {
  const files = Object.fromEntries(Object.entries(lists).map(([name, text]) => [`/g/farm/${name}`, text]));
  const io = reader({
    ...files,
    "/g/farm/plan.yaml": JSON.stringify(plan, null, 1),
    "/g/more.csv": lists["more.csv"] ?? "",
  });
  return loadPlan(io, { planFile: "farm/plan.yaml", ...WHERE, ...more });
}
function loaded(...args: Parameters<typeof load>): Plan {
  const result = load(...args);
  if (!result.ok) throw new Error(formatProblems(result.problems));
  return result.value.plan;
}
const faults = (...args: Parameters<typeof load>): string[] => {
  const result = load(...args);
  return result.ok
    ? []
    : result.problems.map(({ code, place }) => `${code} ${place?.file}:${place?.line}:${place?.column}`);
};
const offers = ({ amendments }: Plan): string[] =>
  amendments.flatMap(({ id, packs, bulkPricePerKg, supplier, placeholder }) => [
    ...packs.map(
      (p) =>
        `${id} ${Number(p.sizeKg.toPrecision(6))} kg ${p.price} ${p.supplier ?? supplier ?? "-"}${placeholder ? " ?" : ""}`,
    ),
    ...(bulkPricePerKg === undefined
      ? []
      : [
          `${id} loose ${Number(bulkPricePerKg.toPrecision(6))} ${supplier ?? "-"}${placeholder ? " ?" : ""}`,
        ]),
  ]);
async function total(plan: Plan): Promise<number | null> {
  const found = await shopPlans([plan]);
  if (!found.ok) throw new Error(formatProblems(found.problems));
  return found.value.total;
}

const HILL = "id,size,price\nmeal,10 kg,20\n";
const VALE = 'Product;Bag;Price €\n"Meal 10-0-0";10 kg;18,00\nRake;each;25,00\nSeed meal;20 kg;15,00\n';

describe("price lists of a plan", () => {
  it("are read from beside the plan; the same pack in two lists is two offers", async () => {
    const plan = {
      ...PLAN,
      currency: "EUR",
      prices: [
        { file: "hill.csv", supplier: "hill" },
        { file: "vale.csv", supplier: "vale", names: { "Meal 10-0-0": "meal" } },
      ],
      suppliers: { hill: { delivery: 0 }, vale: { delivery: 4 } },
    };
    const read = loaded(plan, { "hill.csv": HILL, "vale.csv": VALE });
    expect(offers(read)).toEqual([
      "ash loose 0.4 -",
      "meal 10 kg 20 hill",
      "meal 10 kg 18 vale",
      "seed 20 kg 15 vale",
    ]);
    // Hill: 3 x 20 = 60. Vale: 3 x 15 + 4 = 49 for 60 kg of seed meal; meal there 3 x 18 + 4 = 58.
    expect(await total(read)).toBeCloseTo(49, 9);
    expect(read.warnings).toEqual([
      {
        code: "price-rows-unknown",
        text: expect.stringContaining(
          "farm/vale.csv: 1 of 3 rows name nothing in the plan and are left out (`Rake`)",
        ),
      },
    ]);
  });

  it("may be one name, a list of names, or a map; what they name is sold so alone", () => {
    for (const prices of ["hill.csv", ["hill.csv"], { file: "hill.csv" }])
      expect(offers(loaded({ ...PLAN, prices }, { "hill.csv": HILL }))).toEqual([
        "ash loose 0.4 -",
        "meal 10 kg 20 -",
      ]);
  });

  it("make an amendment without a price buyable, also where it is asked for by name", () => {
    const asked = { ...PLAN, only: ["seed"] };
    expect(faults(asked)).toEqual(["amendment-not-for-sale farm/plan.yaml:47:3"]);
    const priced = loaded({ ...asked, prices: "vale.csv", currency: "EUR" }, { "vale.csv": VALE });
    expect(offers(priced)).toEqual(["seed 20 kg 15 -"]);
  });

  it("are joined by lists of the flag, from the working folder", () => {
    const more = { extraPrices: [{ file: "more.csv" }] };
    const lists = { "hill.csv": HILL, "more.csv": "name,size,price,supplier\nMEAL,25 kg,44,barn\n" };
    const read = loaded({ ...PLAN, prices: "hill.csv" }, lists, more);
    expect(offers(read)).toEqual(["ash loose 0.4 -", "meal 10 kg 20 -", "meal 25 kg 44 barn"]);
    expect(read.warnings.map(({ text }) => text)).toEqual([
      "The price list does not have these; they keep the plan's prices: ash.",
    ]);
  });

  it("say which names are on no row, and that of two loose prices the cheaper counts", () => {
    const lists = { "a.csv": "id,size,price\nash,kg,0.50\n", "b.csv": "id,size,price\nash,kg,0.30\n" };
    const prices = [
      { file: "a.csv", supplier: "a", names: { Asche: "ash" } },
      { file: "b.csv", supplier: "b" },
    ];
    const read = loaded({ ...PLAN, prices }, lists);
    expect(offers(read)[0]).toBe("ash loose 0.3 b");
    expect(read.warnings.map(({ code }) => code)).toEqual(["price-names-unused", "price-loose-several"]);
  });

  it.each([
    ["no such file", { prices: "none.csv" }, {}, "file-unreadable farm/plan.yaml:46:12"],
    [
      "an id that nothing has",
      { prices: [{ file: "l.csv", names: { X: "mael" } }] },
      { "l.csv": HILL },
      "amendment-unknown farm/plan.yaml:50:10",
    ],
    [
      "a supplier that is no id",
      { prices: [{ file: "l.csv", supplier: "My Store" }] },
      { "l.csv": HILL },
      "id-malformed farm/plan.yaml:49:16",
    ],
    [
      "a row that is wrong",
      { prices: "l.csv" },
      { "l.csv": "id,size,price\nmeal,10 kg,0\n" },
      "number-range farm/l.csv:2:12",
    ],
    [
      "another currency",
      { prices: "l.csv" },
      { "l.csv": "id,size,price\nmeal,10 kg,€ 9\n" },
      "choice-unknown farm/l.csv:2:12",
    ],
  ])("refuse %s", (_, keys, lists, wanted) => {
    expect(faults({ ...PLAN, ...keys }, lists as Record<string, string>)).toEqual([wanted]);
  });

  it("are not judged where an amendment is left out", () => {
    const csv = "id,size,price\nmeal,10 kg,call\nash,kg,1\n";
    expect(offers(loaded({ ...PLAN, exclude: ["meal"], prices: "l.csv" }, { "l.csv": csv }))).toEqual([
      "ash loose 1 -",
    ]);
  });
});

describe("check", () => {
  const check = (csv: string) => checkFiles(reader({ "/g/list.csv": csv }), ["list.csv"], WHERE)[0]!;

  it("reads price lists by themselves: what ships and what has an id must be right", () => {
    expect(check("id,size,price\nfeather-meal,50 lb,38.50\nmy-own,5 L,3\n")).toEqual({
      file: "list.csv",
      kind: "prices",
      problems: [],
      warnings: [],
    });
    const bad = check("name,size,price\nFeather meal,50 lb,0\nHose,each,call\n");
    expect(bad.problems.map(({ place }) => `${place?.line}:${place?.column}`)).toEqual(["2:20"]);
    expect(bad.warnings.map(({ code, text }) => [code, text.slice(0, 9)])).toEqual([
      ["price-rows-unknown", "1 of 2 ro"],
    ]);
    expect(check("id;size\n").problems.map(({ code }) => code)).toEqual(["key-missing"]);
  });
});

describe("prices of one's own over those that ship", () => {
  const OWN = { ...PLAN, only: ["broiler-litter"], units: "us" };
  const over = (entry: object): Plan =>
    loaded({ ...OWN, amendments: ["recipe: all", { "broiler-litter": entry }], target: litterNeed() });
  /** What 17.78 lb of litter gives in the end, so that such a bed needs a part of one bag. */
  function litterNeed(): object {
    const shipped = loaded({ ...OWN, amendments: ["recipe: all"] });
    const { analysis } = shipped.amendments[0]!;
    return {
      target: "Crop",
      season: "60 days",
      need: { per: "bed", counts: "applied", P2O5: `${17.78 * analysis.P2O5!} lb` },
    };
  }

  it("take their place: one bag at 9.00, where 17.78 lb loose at the placeholder cost 0.53", async () => {
    const before = over({});
    expect(offers(before)).toEqual(["broiler-litter loose 0.0661387 - ?"]);
    const placeholder = await solvePlan(before);
    expect(placeholder.cost.total).toBeCloseTo(17.78 * 0.03, 6);
    expect(placeholder.warnings.filter(({ code }) => code === "placeholder-price")).toEqual([
      {
        code: "placeholder-price",
        text: expect.stringMatching(/^The price of broiler-litter is a placeholder, invented/),
      },
    ]);
    const own = over({ packs: [{ size: "20 lb", price: 9 }] });
    expect(offers(own)).toEqual([`broiler-litter ${Number((20 * LB).toPrecision(6))} kg 9 -`]);
    expect(await total(own)).toBeCloseTo(9, 9);
    const solved = await solvePlan(own);
    expect(solved.warnings.filter(({ code }) => code === "placeholder-price")).toEqual([]);
  });

  it("are taken away by `bulk: null` and `packs: []`; a price beside them stays", () => {
    const layered = (...entries: object[]): string[] =>
      offers(
        loaded({
          ...PLAN,
          amendments: [MEALS, ...entries.map((entry) => ({ meal: entry }))],
        }),
      ).filter((line) => line.startsWith("meal"));
    expect(layered()).toEqual(["meal 10 kg 99 - ?"]);
    expect(layered({ stock: "1 kg" })).toEqual(["meal 10 kg 99 - ?"]);
    expect(layered({ bulk: { price: 2, per: "kg" } })).toEqual(["meal loose 2 -"]);
    expect(layered({ packs: [] })).toEqual([]);
    const both = { packs: [{ size: "5 kg", price: 9 }], bulk: { price: 2, per: "kg" } };
    expect(layered(both)).toEqual(["meal 5 kg 9 -", "meal loose 2 -"]);
    expect(layered(both, { bulk: null })).toEqual(["meal 5 kg 9 -"]);
    expect(layered(both, { packs: [] })).toEqual(["meal loose 2 -"]);
    expect(layered(both, { bulk: null, packs: [] })).toEqual([]);
    expect(layered(both, { packs: [{ size: "1 kg", price: 3 }] })).toEqual(["meal 1 kg 3 -"]);
  });

  it("may be put in from a flag, whole or in part; what is not touched stays", () => {
    const both = { ...MEALS, meal: { ...MEALS.meal, bulk: { price: 2, per: "kg" } } };
    const set = (path: (string | number)[], value: unknown) =>
      offers(
        loaded(
          { ...PLAN, amendments: ["a.yaml"] },
          { "a.yaml": JSON.stringify({ amendments: both }) },
          {
            overrides: [{ path: ["amendments", "meal", ...path], value, flag: "--set" }],
          },
        ),
      ).filter((line) => line.startsWith("meal"));
    expect(set(["packs", 0, "price"], 50)).toEqual(["meal 10 kg 50 -", "meal loose 2 -"]);
    expect(set(["packs"], [{ size: "4 kg", price: 8 }])).toEqual(["meal 4 kg 8 -"]);
  });

  it("say nothing of a placeholder on which no money is spent", () => {
    const { amendments } = loaded({ ...PLAN, prices: "hill.csv" }, { "hill.csv": HILL });
    expect(amendments.some(({ placeholder }) => placeholder)).toBe(false);
    const plain = loaded(PLAN).amendments;
    expect(
      placeholderNotice(plain, [
        { id: "meal", cost: 0 },
        { id: "ash", cost: 3 },
      ]),
    ).toEqual([]);
    expect(placeholderNotice(plain, [{ id: "meal", cost: 1 }])).toHaveLength(1);
    const many = Array.from({ length: 9 }, (_, i) => ({
      ...plain.find(({ id }) => id === "meal")!,
      id: `m${i}`,
    }));
    const [notice] = placeholderNotice(
      many,
      many.map(({ id }) => ({ id, cost: 1 })),
    );
    expect(notice!.text).toMatch(/^The prices of m0, m1, m2, m3 and 5 more are placeholders/);
  });
});
