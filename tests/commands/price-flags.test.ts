import { join } from "node:path";
import { describe, expect, it, vi } from "vitest";
import { main } from "../../src/cli.ts";
import { nodeWorld } from "../../src/commands/node-world.ts";
import { parsePriceChange } from "../../src/units.ts";
import { slow } from "../helpers/seeds.ts";
import { ROOT, testWorld } from "../helpers/world.ts";

vi.setConfig({ testTimeout: 60_000 });

const DEMO = join(ROOT, "examples/brassica-terraces/plan.yaml");
const MIX = join(ROOT, "examples/brassica-terraces/mix.yaml");
const LIST = "id,size,price\nfeather-meal,50 lb,48\n";
const LB = 0.45359237;

async function run(...argv: string[]): Promise<{ code: number; stdout: string; stderr: string }> {
  const real = nodeWorld(ROOT).files;
  const world = testWorld({
    files: { read: (path) => (path.endsWith("/list.csv") ? LIST : real.read(path)) },
  });
  const code = await main(argv, world);
  return { code, ...world.written };
}

async function json(...argv: string[]) {
  const { code, stdout, stderr } = await run(...argv, "--json");
  expect([code, stderr], argv.join(" ")).toEqual([0, ""]);
  return JSON.parse(stdout);
}

// The same price three ways; the plan sells feather meal in bags of 50 lb at 43.50 alone.
const IN_FILE = ["--set", "amendments.feather-meal.packs=[{size: 50 lb, price: 48}]"];
const WAYS = [
  ["--price", "feather-meal=48/50 lb"],
  ["--price", "feather-meal=0.96/lb"],
  ["--prices", "list.csv"],
  ["--price", "feather-meal=2/lb", "--price", "feather-meal=48/50 lb"],
];

describe("other prices than the files'", () => {
  it.each(WAYS)("are those of a file that says so: %s %s", async (...way) => {
    const flags = way.filter((word) => word !== undefined);
    const cost = async (extra: string[]) => (await json("solve", DEMO, ...extra)).cost;
    const bought = await cost(flags);
    const inFile = await cost(IN_FILE);
    expect(bought.total).toBe(inFile.total);
    expect(bought.byWeight).toBeCloseTo(inFile.byWeight, 9);
    expect(bought.total).toBeCloseTo((await cost([])).total + 4.5, 6);
  });

  slow("are the base of whatif and sweep", async () => {
    const { cost } = await json("solve", DEMO, "--prices", "list.csv");
    const { base, cases } = await json(
      "whatif",
      DEMO,
      "--prices",
      "list.csv",
      "--price",
      "feather-meal=43.50/50 lb",
    );
    expect(base.total).toBe(cost.total);
    expect(cases[0].total).toBeCloseTo((await json("solve", DEMO)).cost.total, 9);
    const swept = await json(
      ...["sweep", DEMO, "--price", "feather-meal=48/50 lb", "--price", "gypsum"],
      ...["--from", "-0%", "--to", "+10%", "--steps", "1"],
    );
    expect(swept.points[0].total).toBeCloseTo(cost.total, 9);
  });

  it("count in the cost of a mix", async () => {
    const before = await json("assay", MIX);
    const after = await json("assay", MIX, "--price", "feather-meal=48/50 lb");
    const feather = before.amendments.find(({ id }: { id: string }) => id === "feather-meal");
    const more = (feather.kg * 4.5) / (50 * LB);
    expect(after.costPerKg * after.kg).toBeCloseTo(before.costPerKg * before.kg + more, 6);
    // What only the plan has may be given a price too.
    const flags = ["--against", DEMO, "--price", "crab-meal=+10%"];
    expect((await json("assay", MIX, ...flags)).costPerKg).toBe(before.costPerKg);
  });

  it("are the whole offer where a pack is of a new size, so that no older one hides them", async () => {
    const flags = ["--price", "feather-meal=60/40 lb", "--price", "feather-meal=10/5 lb"];
    const set = "amendments.feather-meal.packs=[{size: 40 lb, price: 60}, {size: 5 lb, price: 10}]";
    const dearer = await json("shop", DEMO, ...flags);
    expect(dearer.total).toBe((await json("shop", DEMO, "--set", set)).total);
    expect(dearer.warnings.map(({ text }: { text: string }) => text)).toContain(
      "feather-meal is sold as `--price` says, and in no other size.",
    );
  });

  it("name what a list lacks", async () => {
    const { warnings } = await json("solve", DEMO, "--prices", "list.csv");
    const [text] = warnings.filter(({ code }: { code: string }) => code === "prices-changed");
    expect(text.text).toMatch(
      /^The price list does not have these; they keep the plan's prices: alfalfa-meal, /,
    );
    expect(text.text).not.toContain("feather-meal");
  });

  it.each([
    [["--price", "fether-meal=+5%"], "did you mean `feather-meal`?"],
    [["--price", "feather-meal"], "write an id, `=` and the change"],
    [["--price", "feather-meal=48/50"], "no unit"],
    [["--price", "feather-meal=x/50 lb"], "is not a price"],
    [["--price", "feather-meal=-3/50 lb"], "not below zero"],
    [["--price", "all=48/50 lb"], "takes no price of a pack"],
    [["--prices", "nowhere.csv"], "the file `nowhere.csv` is not there"],
  ])("are refused in a sentence: %j", async (flags, words) => {
    const { code, stderr, stdout } = await run("solve", DEMO, ...flags);
    expect([code, stdout]).toEqual([2, ""]);
    expect(stderr).toContain(words);
  });
});

describe("the price of a pack", () => {
  it("is read with its size, by weight or volume", () => {
    const read = (text: string) => {
      const result = parsePriceChange(text);
      return result.ok ? result.value : result.code;
    };
    expect(read("48/50 lb")).toEqual({ kind: "pack", price: 48, size: { kg: 50 * LB } });
    expect(read("$48.50 / 50 lb")).toEqual({ kind: "pack", price: 48.5, size: { kg: 50 * LB } });
    expect(read("9/2 L")).toEqual({ kind: "pack", price: 9, size: { litres: 2 } });
    expect(read("1.20/lb")).toEqual({ kind: "price", pricePerKg: 1.2 / LB });
    expect(read("48/0 lb")).toBe("number-range");
    expect(read("48/50 days")).toBe("unit-kind");
  });
});
