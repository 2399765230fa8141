/** What looks like a slip is asked about; what is only unusual is not. */
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { parse } from "yaml";
import { USUAL } from "../../src/words/slips.ts";
import { weighed as solvePlan } from "../helpers/answers.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { ROOT } from "../helpers/world.ts";

const tree = (more: Record<string, unknown> = {}, meal: Record<string, unknown> = {}) => ({
  plan: "Slips",
  amendments: {
    "blood-meal": {
      name: "Blood meal",
      analysis: { N: 12 },
      packs: [{ size: "50 lb", price: 60 }],
      density: "0.6 kg/L",
      release: "at-once",
      ...meal,
    },
  },
  bed: { area: "1000 sq ft", plants: 200, rows: 10, row_length: "25 ft" },
  target: { target: "Crop", season: "100 days", need: { per: "1000 sq ft", N: "3 lb" } },
  ...more,
});
async function codes(more: Record<string, unknown> = {}, meal: Record<string, unknown> = {}) {
  return (await solvePlan(loadTree(tree(more, meal)))).warnings.map((w) => w.code);
}
const suspects = (found: readonly string[]) => found.filter((code) => code.endsWith("-suspect"));

describe("slips", () => {
  it("are not seen in an ordinary plan", async () => {
    expect(suspects(await codes())).toEqual([]);
  });

  it("a label a tenth of the usual one", async () => {
    expect(await codes({}, { analysis: { N: 1.2 } })).toContain("analysis-suspect");
    expect(await codes({}, { analysis: { N: 10 } })).not.toContain("analysis-suspect");
    expect(await codes({}, { analysis: { N: 14 } })).not.toContain("analysis-suspect");
  });

  it("nothing is usual of an id that every object has", async () => {
    const { "blood-meal": meal } = tree().amendments;
    expect(suspects(await codes({ amendments: { constructor: meal } }))).toEqual([]);
  });

  it("the price of a pound on a bag", async () => {
    expect(await codes({}, { packs: [{ size: "50 lb", price: 1.2 }] })).toContain("price-suspect");
    expect(await codes({}, { packs: [{ size: "1 lb", price: 1.2 }] })).not.toContain("price-suspect");
  });

  it("rows 12 ft apart, plants with an acre each", async () => {
    const bed = (fields: Record<string, unknown>) => codes({ bed: fields });
    expect(await bed({ area: "3000 sq ft", plants: 200, rows: 10, row_length: "25 ft" })).toContain(
      "bed-suspect",
    );
    expect(await bed({ area: "1500 sq ft", plants: 200, rows: 10, row_length: "25 ft" })).not.toContain(
      "bed-suspect",
    );
    expect(await bed({ area: "1 acre", plants: 10 })).toContain("bed-suspect");
  });

  it("a harvest after the season", async () => {
    expect(await codes({ harvest: { first: 120 } })).toContain("harvest-suspect");
    expect(await codes({ harvest: { first: 100 } })).not.toContain("harvest-suspect");
  });

  it("a load of compost, and cups upon cups at one plant", async () => {
    const poor = { analysis: { N: 0.1 }, name: "Something poor" };
    const rename = (plan: ReturnType<typeof tree>, id: string) => ({
      ...plan,
      amendments: { [id]: plan.amendments["blood-meal"] },
    });
    const found = await solvePlan(loadTree(rename(tree({}, poor), "poor")));
    const text = found.warnings.find((w) => w.code === "load-suspect")!.text;
    // 3 lb of N at 0.1 % are 3000 lb.
    expect(text).toContain("3,000 lb");
    expect(found.warnings.map((w) => w.code)).toContain("per-plant-suspect");
  });

  it("yards read as a depth, and a layer deeper than 6 in, are refused with what to write", () => {
    const credit = (spread: string) =>
      loadTree(
        tree({
          credits: [{ from: "heap", spread, analysis: { N: 1 }, density: "0.6 kg/L", release: "slow" }],
        }),
      );
    expect(() => credit("2 yards")).toThrow(/compost by the yard is a volume[\s\S]*write `2 cu yd`/);
    expect(() => credit("12 in")).toThrow(/deeper than anyone spreads[\s\S]*at most `6 in`/);
    for (const fine of ["1 in", "6 in", "15 cm", "2 cu yd"]) expect(() => credit(fine)).not.toThrow();
  });
});

describe("the usual labels", () => {
  it("are those that ship, within a half and twice", () => {
    const folder = join(ROOT, "recipes/amendments");
    const shipped = Object.assign(
      {},
      ...readdirSync(folder)
        .filter((name) => name.endsWith(".yaml"))
        .map((name) => parse(readFileSync(join(folder, name), "utf8")).amendments ?? {}),
    ) as Record<string, { analysis: Record<string, number> }>;
    for (const [id, [nutrient, percent]] of Object.entries(USUAL)) {
      const own = shipped[id]?.analysis[nutrient];
      expect(own, id).toBeGreaterThan(percent / 2);
      expect(own, id).toBeLessThan(percent * 2);
    }
  });
});

describe("a soil temperature that is not given", () => {
  const slow = { release: { N: { later: "60%", half_life: "30 days" } } };
  it("is told, with what the mix would give in ordinary soil", async () => {
    const { warnings } = await solvePlan(loadTree(tree({}, slow)));
    const text = warnings.find((w) => w.code === "soil-temperature-assumed")!.text;
    expect(text).toContain("25 C");
    // 100 days at 18 C with a Q10 of 2 are 61.557 days: (1 - 2^-2.0519) / (1 - 2^-3.3333) = 0.8431 of 3 lb.
    expect(text).toContain("At 18 C this mix would give 2.53 lb of nitrogen by day 100, and not 3.00 lb.");
  });
  it("is no matter where nothing depends on it", async () => {
    expect(await codes()).not.toContain("soil-temperature-assumed");
    expect(await codes({ soil_temperature: "18 C" }, slow)).not.toContain("soil-temperature-assumed");
  });
});
