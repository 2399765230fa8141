import { resolve } from "node:path";
import { describe, expect, it } from "vitest";
import { main } from "../../src/cli.ts";
import type { PurchaseLine, Solution } from "../../src/results/solution.ts";
import type { Sweep } from "../../src/results/sweep.ts";
import { unfolded } from "../helpers/answers.ts";
import { slow } from "../helpers/seeds.ts";
import { ROOT, testWorld } from "../helpers/world.ts";

const DEMO = resolve(ROOT, "examples/brassica-terraces/plan.yaml");
const LB = 0.45359237;
/** The demo's bed, 2400 of an acre's 43,560 square feet. */
const ACRES = 2400 / 43560;
const PER_ACRE_KG = LB * ACRES;
/** P to P2O5 by IUPAC 2021 abridged atomic weights (30.974, 15.999). */
const P2O5_PER_P = (2 * 30.974 + 5 * 15.999) / (2 * 30.974);

async function run(args: readonly string[], stdin = "") {
  const world = testWorld({ stdin });
  // Exact, by weight, but where a test is about purchases.
  const by = args.some((arg) => arg === "--by" || arg === "--time-limit") ? [] : ["--by", "weight"];
  const code = await main(["sweep", ...args, ...by], world);
  return { code, ...world.written };
}

async function sweep(args: readonly string[]): Promise<Sweep> {
  const { code, stdout, stderr } = await run([DEMO, ...args, "--json"]);
  expect(stderr).toBe("");
  expect(code).toBe(0);
  return JSON.parse(stdout) as Sweep;
}

const ends = ({ points }: Sweep): [number, number] => [points[0]!.value, points.at(-1)!.value];

describe("sweep, the command", () => {
  it("counts a weight as the target counts it, here per acre", async () => {
    const found = await sweep(["--need", "N", "--from", "100 lb", "--to", "150 lb", "--steps", "10"]);
    expect(found).toMatchObject({
      schema: "barrowmix.sweep/2",
      what: "need N",
      unit: "kg for the whole bed",
    });
    expect(found.points).toHaveLength(11);
    expect(ends(found)[0]).toBeCloseTo(100 * PER_ACRE_KG, 9);
    expect(ends(found)[1]).toBeCloseTo(150 * PER_ACRE_KG, 9);
    // The plan's own need, 125 lb an acre, is half way: the cost there is that of solve.
    expect(found.today).toBeCloseTo(125 * PER_ACRE_KG, 9);
    const world = testWorld();
    await main(["solve", DEMO, "--by", "weight", "--json"], world);
    const solution = JSON.parse(world.written.stdout) as { cost: { total: number } };
    expect(found.points[5]!.total).toBeCloseTo(solution.cost.total, 9);
  });

  it("takes nutrients of --sure for what to sweep, and a share for how sure the plan is to be", async () => {
    const found = await sweep(["--sure", "N,S", "--from", "50%", "--to", "90%", "--steps", "1"]);
    expect(found).toMatchObject({ what: "sure N,S", kind: "sure", unit: "share of seasons", segments: [] });
    expect(ends(found)).toEqual([0.5, 0.9]);
    const lines = await run([
      DEMO,
      "--sure",
      "N",
      "--from",
      "50%",
      "--to",
      "90%",
      "--steps",
      "1",
      "--ndjson",
    ]);
    expect(
      lines.stdout
        .trim()
        .split("\n")
        .map((line) => JSON.parse(line).value),
    ).toEqual([0.5, 0.9]);
    const csv = await run([
      DEMO,
      "--sure",
      "N",
      "--from",
      "50%",
      "--to",
      "90%",
      "--steps",
      "1",
      "--format",
      "csv",
    ]);
    expect(csv.stdout).toMatch(
      /^sure_N_percent,status,cost,met_percent,feather-meal_lb,.*\r?\n50,optimal,84\.65/,
    );
    const share = await run([DEMO, "--sure", "90%", "--need", "N", "--from", "100 lb", "--to", "110 lb"]);
    expect(share.stdout.replace(/\s+/g, " ")).toContain("How sure the plan asks to be is ignored");
  });

  slow("refuses a sweep of sureness that it cannot follow, and says where none is that sure", async () => {
    const asked = (...more: string[]) => run([DEMO, "--sure", ...more]);
    expect((await asked("P2O5", "--from", "97%", "--to", "99%")).code).toBe(3);
    expect((await asked("P2O5", "--from", "94%", "--to", "99%")).code).toBe(0);
    expect((await asked("N", "--from", "40%", "--to", "90%")).stderr).toContain("from 50% to 99.9%");
    expect((await asked("B", "--from", "60%", "--to", "90%")).stderr).toContain("no need of B");
    expect((await asked("N", "--need", "N", "--from", "60%", "--to", "90%")).stderr).toContain(
      "not --sure and --need",
    );
    const bought = await asked(
      "N",
      "--from",
      "60%",
      "--to",
      "90%",
      "--steps",
      "1",
      "--by",
      "purchase",
      "--json",
    );
    const { by, points } = JSON.parse(bought.stdout) as { by: string; points: { total: number }[] };
    expect([by, points.length]).toEqual(["purchase", 2]);
    expect(points[0]!.total).toBeLessThanOrEqual(points[1]!.total);
  });

  it("counts a rate by the area of the bed", async () => {
    const found = await sweep([
      "--cap",
      "P2O5",
      "--from",
      "60 lb/acre",
      "--to",
      "3 kg/1000 sq ft",
      "--steps",
      "1",
    ]);
    expect(ends(found)[0]).toBeCloseTo(60 * PER_ACRE_KG, 9);
    expect(ends(found)[1]).toBeCloseTo(7.2, 9);
    expect(found.what).toBe("cap P2O5");
  });

  it("takes another form of a nutrient for what it is", async () => {
    const asP = await sweep(["--cap", "P", "--from", "30 lb", "--to", "40 lb", "--steps", "2"]);
    expect(asP.what).toBe("cap P2O5");
    expect(ends(asP)[0]).toBeCloseTo(30 * P2O5_PER_P * PER_ACRE_KG, 6);
    expect(asP.understood).toContain("P (as P2O5 in the mix)");
  });

  it("counts a price by weight or from what it is", async () => {
    const byWeight = await sweep([
      "--price",
      "feather-meal",
      "--from",
      "0.50/lb",
      "--to",
      "2/kg",
      "--steps",
      "3",
    ]);
    expect(byWeight).toMatchObject({ what: "price feather-meal", unit: "USD per kg" });
    expect(ends(byWeight)).toEqual([expect.closeTo(0.5 / LB, 9), 2]);
    const relative = await sweep(["--price", "feather-meal", "--from", "-50%", "--to", "+50%"]);
    // The cheapest way of buying it: 43.50 for 50 lb.
    const today = 43.5 / 50 / LB;
    expect(ends(relative)).toEqual([expect.closeTo(today / 2, 9), expect.closeTo(today * 1.5, 9)]);
    expect(relative.points).toHaveLength(21);
    expect(relative.breakpoints).toEqual([
      expect.objectContaining({ entered: ["soybean-meal"], left: ["feather-meal"] }),
    ]);
  });

  it("prints one value a line, and a row each as CSV", async () => {
    const flags = [DEMO, "--price", "feather-meal", "--from", "-5%", "--to", "+5%", "--steps", "4"];
    const lines = (await run([...flags, "--ndjson", "--quiet"])).stdout.trimEnd().split("\n");
    expect(lines).toHaveLength(5);
    expect(Object.keys(JSON.parse(lines[0]!) as object)).toEqual([
      "schema",
      "by",
      "what",
      "unit",
      "value",
      "status",
      "total",
      "amendments",
    ]);
    const csv = (await run([...flags, "--format", "csv"])).stdout.trimEnd().split("\r\n");
    expect(csv).toHaveLength(6);
    expect(csv[0]).toMatch(/^price_per_lb,status,cost,feather-meal_lb,/);
  });

  it("exits 3 where nothing fits, and prints the values all the same", async () => {
    const { code, stdout } = await run([DEMO, "--cap", "P2O5", "--from", "1 lb", "--to", "20 lb", "--json"]);
    expect(code).toBe(3);
    const found = JSON.parse(stdout) as Sweep;
    expect(found.feasible).toBeNull();
    expect(found.points).toHaveLength(21);
    expect(found.points.every(({ status }) => status === "infeasible")).toBe(true);
  });

  it("is the same bytes each time, and no wider than a screen", async () => {
    const flags = [DEMO, "--need", "K2O", "--from", "60 lb", "--to", "200 lb"];
    const [one, two] = [await run(flags), await run(flags)];
    expect(one.stdout).toBe(two.stdout);
    expect(one.stdout).toContain("▲ the mix changes");
    for (const line of one.stdout.split("\n")) expect(line.length, line).toBeLessThanOrEqual(80);
  });

  it.each([
    [["--from", "1/lb", "--to", "2/lb"], "sweep one thing"],
    [
      ["--price", "feather-meal", "--need", "N", "--from", "1/lb", "--to", "2/lb"],
      "not --price and --need at once",
    ],
    [["--price", "feather-meal", "--from", "1/lb"], "needs --from and --to"],
    [["--price", "feather-meal", "--from", "2/lb", "--to", "1/lb"], "goes upwards"],
    [["--price", "feather-meal", "--from", "1/lb", "--to", "2/lb", "--steps", "0"], "a whole number from 1"],
    [
      ["--price", "feather-meal", "--from", "1/lb", "--to", "2/lb", "--steps", "2.5"],
      "a whole number from 1",
    ],
    [["--price", "fether-meal", "--from", "1/lb", "--to", "2/lb"], "did you mean `feather-meal`?"],
    [["--price", "feather-meal", "--from", "1", "--to", "2 lb"], "--from: `1` has no unit"],
    [["--need", "Nitrogen", "--from", "1 lb", "--to", "2 lb"], "no nutrient the program knows"],
    [["--need", "N", "--from", "1", "--to", "2 lb"], "--from: `1` has no unit"],
    [["--need", "N", "--from", "1 lbb", "--to", "2 gal"], "--to: `2 gal` is a volume"],
  ])("says what is wrong with %j", async (args, message) => {
    const { code, stdout, stderr } = await run([DEMO, ...args]);
    expect(stderr).toContain(message);
    expect(stdout).toBe("");
    expect(code).toBe(2);
  });

  it("asks for a rate where a soil test sets the need", async () => {
    const plan = `
plan: Tested soil
amendments: {meal: {analysis: {N: 10}, bulk: {price: 1, per: kg}, release: at-once}}
target: {target: Crop, season: 90 days, need: {per: ha, N: 90 kg}}
soil_test: {recommends: {per: ha, N: 60 kg}}
bed: {area: 100 m2}
`;
    const refused = await run(["-", "--need", "N", "--from", "50 kg", "--to", "70 kg"], plan);
    expect(refused.code).toBe(2);
    expect(refused.stderr).toContain("say it per area");
    const rate = await run(["-", "--need", "N", "--from", "50 kg/ha", "--to", "70 kg/ha", "--json"], plan);
    const found = JSON.parse(rate.stdout) as Sweep;
    expect(ends(found)).toEqual([expect.closeTo(0.5, 12), expect.closeTo(0.7, 12)]);
    expect(found.today).toBeCloseTo(0.6, 12);
  });

  it("asks for the area where a rate needs it", async () => {
    const plan = `
plan: Pots
amendments: {meal: {analysis: {N: 10}, bulk: {price: 1, per: kg}, release: at-once}}
target: {target: Pots, season: 90 days, need: {per: plant, N: 2 g}}
bed: {plants: 50}
`;
    const refused = await run(["-", "--need", "N", "--from", "1 kg/ha", "--to", "2 kg/ha"], plan);
    expect(refused.code).toBe(2);
    expect(refused.stderr).toContain("does not say how large the bed is");
    const found = await run(["-", "--need", "N", "--from", "1 g", "--to", "4 g", "--json"], plan);
    expect(ends(JSON.parse(found.stdout) as Sweep)).toEqual([
      expect.closeTo(0.05, 12),
      expect.closeTo(0.2, 12),
    ]);
    // The target has no cap to say what such amounts are counted per: then it is the whole bed.
    const cap = await run(["-", "--cap", "N", "--from", "50 g", "--to", "400 g", "--json"], plan);
    const swept = JSON.parse(cap.stdout) as Sweep;
    expect(ends(swept)).toEqual([0.05, 0.4]);
    expect(swept.understood).toContain("for the whole bed");
    expect(swept.feasible!.from).toBeCloseTo(0.1, 9);
  });
});

describe("sweep by purchase, the command", () => {
  const FLAGS = ["--price", "feather-meal", "--from", "-40%", "--to", "+60%", "--by", "purchase"];

  slow("is what `shop` buys at the same price, at each step", async () => {
    const found = await sweep([...FLAGS, "--steps", "5"]);
    expect(found.by).toBe("purchase");
    for (const { value, total, purchase } of found.points) {
      const world = testWorld();
      await main(["shop", DEMO, "--price", `feather-meal=${value}/kg`, "--json"], world);
      const shopping = unfolded(JSON.parse(world.written.stdout) as Solution);
      expect(total).toBeCloseTo(shopping.total!, 9);
      expect(purchase!.delivery).toBeCloseTo(shopping.delivery!, 9);
      const packs = (lines: readonly PurchaseLine[]) =>
        lines.map(({ id, packs }) => [id, packs.map(({ sizeKg, count }) => [sizeKg, count])]);
      expect(packs(purchase!.lines)).toEqual(packs(shopping.purchases));
    }
  });

  slow("puts steps that buy the same together, in every format", async () => {
    const found = await sweep(FLAGS);
    expect(found.runs!.length).toBeGreaterThan(1);
    expect(found.runs!.length).toBeLessThan(found.points.length);
    const table = (await run([DEMO, ...FLAGS])).stdout;
    expect(table).toContain("These prices are exact, delivery included");
    for (const line of table.split("\n")) expect(line.length, line).toBeLessThanOrEqual(80);
    const md = (await run([DEMO, ...FLAGS, "--format", "md"])).stdout;
    const html = (await run([DEMO, ...FLAGS, "--format", "html"])).stdout;
    for (const text of [table, md, html]) expect(text).toContain("3 x 50 lb");
    const lines = (await run([DEMO, ...FLAGS, "--ndjson"])).stdout.trimEnd().split("\n");
    expect(lines.map((line) => (JSON.parse(line) as { total: number }).total)).toEqual(
      found.points.map(({ total }) => total),
    );
    const [head, ...rows] = (await run([DEMO, ...FLAGS, "--format", "csv"])).stdout.trimEnd().split("\r\n");
    expect(head).toMatch(/^price_per_lb,status,cost,goods,delivery,by_weight,gap,packs,left_worth,/);
    const [cost, goods, delivery] = ["cost", "goods", "delivery"].map((name) =>
      head!.split(",").indexOf(name),
    );
    for (const row of rows) {
      const cells = row.split(",").map(Number);
      expect(cells[goods!]! + cells[delivery!]!).toBeCloseTo(cells[cost!]!, 6);
    }
  });

  it.each([
    [["--by", "bag"], "--by bag: this takes `purchase` or `weight`"],
    [["--by", "purchase", "--time-limit", "soon"], "this takes seconds"],
    [["--by", "purchase", "--steps", "1001"], "a whole number from 1 to 1,000 by purchase"],
  ])("says what is wrong with %j", async (args, message) => {
    const { code, stdout, stderr } = await run([DEMO, ...FLAGS.slice(0, 6), ...args]);
    expect([code, stdout]).toEqual([2, ""]);
    expect(stderr).toContain(message);
  });
});
