import { join } from "node:path";
import { describe, expect, it, vi } from "vitest";
import { main } from "../../src/cli.ts";
import { slow } from "../helpers/seeds.ts";
import { ROOT, testWorld } from "../helpers/world.ts";

vi.setConfig({ testTimeout: 60_000 });

const DEMO = join(ROOT, "examples/brassica-terraces/plan.yaml");

async function run(
  argv: readonly string[],
  stdin?: string,
): Promise<{ code: number; stdout: string; stderr: string }> {
  const world = testWorld(stdin === undefined ? {} : { stdin });
  const code = await main(argv, world);
  return { code, ...world.written };
}

describe("shop in a pipe", () => {
  it("goes on from what solve prints, as from the plan file", async () => {
    const solved = await run(["solve", DEMO, "--json"]);
    const piped = await run(["shop", "-", "--json"], solved.stdout);
    const direct = await run(["shop", DEMO, "--json"]);
    expect([solved.code, piped.code, direct.code]).toEqual([0, 0, 0]);
    expect(JSON.parse(piped.stdout)).toEqual(JSON.parse(direct.stdout));
    // The same total, packs and weights in solve, shop and card.
    expect(JSON.parse(direct.stdout)).toEqual(JSON.parse(solved.stdout));
    const card = JSON.parse((await run(["card", "-", "--json"], solved.stdout)).stdout);
    const [mix] = JSON.parse(solved.stdout).mixes;
    expect(card.mixes[0].weights.map(({ id, kg }: { id: string; kg: number }) => [id, kg])).toEqual(
      mix.batches.weights.map(({ id, kg }: { id: string; kg: number }) => [id, kg]),
    );
    const csv = await run(["shop", "-", "--format", "csv", "--quiet"], solved.stdout);
    expect(csv.code).toBe(0);
    expect(csv.stdout.split("\r\n")[0]).toBe(
      "supplier,what,id,count,size_lb,weight_lb,price_each,cost,material,status,conflict,demand",
    );
    const metric = await run(["shop", "-", "--format", "csv", "--units", "metric", "--quiet"], solved.stdout);
    expect(metric.stdout.split("\r\n")[0]).toContain("size_kg");
  });

  it("takes a plan file from the pipe, in YAML or JSON", async () => {
    const yaml = `{plan: Bed, bed: {area: 100 m2}, target: {target: Crop, season: 90 days, need: {per: bed, N: 1 kg}},
      amendments: {meal: {name: Meal, analysis: {N: 10}, packs: [{size: 25 kg, price: 20}]}}}`;
    expect(JSON.parse((await run(["shop", "-", "--json"], yaml)).stdout)).toMatchObject({
      cost: { total: 20 },
    });
    const json = JSON.stringify({
      plan: "Bed",
      bed: { area: "100 m2" },
      target: { target: "Crop", season: "90 days", need: { per: "bed", N: "1 kg" } },
      amendments: { meal: { name: "Meal", analysis: { N: 10 }, packs: [{ size: "25 kg", price: 20 }] } },
    });
    expect(JSON.parse((await run(["shop", "-", "--json"], json)).stdout)).toMatchObject({
      cost: { total: 20 },
    });
  });

  it("says so in a sentence where the pipe broke", async () => {
    const { stdout } = await run(["solve", DEMO, "--json"]);
    for (const cut of [0, 1, 40, 1000, Math.floor(stdout.length / 2), stdout.length - 3]) {
      const broken = await run(["shop", "-"], stdout.slice(0, cut));
      expect(broken.code, `cut at ${cut}`).toBe(2);
      expect(broken.stdout).toBe("");
      expect(broken.stderr).not.toContain("    at ");
      expect(broken.stderr.length).toBeGreaterThan(20);
    }
  });

  it("refuses a solution without its plan, and flags that would change what is solved", async () => {
    const { stdout } = await run(["solve", DEMO, "--json"]);
    const solution = JSON.parse(stdout);
    const { inputs } = solution;
    const [plan] = inputs.plans;
    for (const wrong of [
      undefined,
      null,
      3,
      {},
      { ...inputs, plans: [] },
      { ...inputs, by: "bag" },
      { ...inputs, budget: "100" },
      { ...inputs, plans: [{ ...plan, amendments: "none" }] },
    ]) {
      const refused = await run(["shop", "-"], JSON.stringify({ ...solution, inputs: wrong }));
      expect(refused.code).toBe(2);
      expect(refused.stdout).toBe("");
      expect(refused.stderr).toMatch(/standard input|inputs/);
    }
    const flagged = await run(["shop", "-", "--plants", "12"], stdout);
    expect(flagged.code).toBe(2);
    expect(flagged.stderr).toContain("--plants changes the plan");
  });
});

describe("shop and its flags", () => {
  slow("takes budgets, leftovers and limits in the forms that people write", async () => {
    const total = async (...flags: string[]) => {
      const { code, stdout } = await run(["shop", DEMO, "--json", ...flags]);
      return [code, JSON.parse(stdout).cost.total];
    };
    expect(await total("--budget", "184")).toEqual([0, 184]);
    expect(await total("--budget", "1,184.00")).toEqual([0, 184]);
    expect(await total("--budget", "183.99")).toEqual([3, null]);
    expect(await total("--max-leftover", "50 lb")).toEqual([0, 184]);
    expect(await total("--time-limit", "30 s")).toEqual([0, 184]);
  });

  it.each([
    ["--budget", "-5"],
    ["--budget", "$50"],
    ["--max-leftover", "150%"],
    ["--max-leftover", "5 ft"],
    ["--time-limit", "0"],
    ["--time-limit", "soon"],
  ])("refuses %s %s", async (flag, value) => {
    const { code, stdout, stderr } = await run(["shop", DEMO, flag, value]);
    expect(code).toBe(2);
    expect(stdout).toBe("");
    expect(stderr).toContain(flag);
  });

  it("gathers the faults of every plan", async () => {
    const { code, stderr } = await run(["shop", "no.yaml", "neither.yaml"]);
    expect(code).toBe(2);
    expect(stderr).toContain("no.yaml");
    expect(stderr).toContain("neither.yaml");
  });

  slow("buys for two plans in one trip, and promises no bag twice", async () => {
    const alone = JSON.parse((await run(["shop", DEMO, "--json"])).stdout);
    const { code, stdout } = await run(["shop", DEMO, DEMO, "--json"]);
    const both = JSON.parse(stdout);
    expect(code).toBe(0);
    expect(both.beds).toHaveLength(2);
    expect(both.mixes.map(({ name }: { name: string }) => name)).toEqual(["A", "B"]);
    expect(both.cost.total).toBeLessThan(2 * alone.cost.total);
    for (const { usedKg, boughtKg, stockKg } of both.purchases)
      expect(usedKg).toBeLessThanOrEqual((boughtKg + stockKg) * (1 + 1e-8));
    const apart = JSON.parse((await run(["shop", DEMO, DEMO, "--apart", "--json"])).stdout);
    expect(apart.map(({ cost }: typeof alone) => cost.total)).toEqual([alone.cost.total, alone.cost.total]);
  });
});

describe("what was printed", () => {
  it("has no rounding of sums in its money: 94.254, not 94.25399999999999", async () => {
    const prices = ["feather-meal=31.418/50 lb", "turkey-litter-pellets=14.07/50 lb"];
    const csv = await run([
      "shop",
      DEMO,
      ...prices.flatMap((price) => ["--price", price]),
      "--format",
      "csv",
    ]);
    expect([csv.code, csv.stdout]).toEqual([0, expect.stringContaining("31.418")]);
    const asked = prices.flatMap((price) => ["--price", price]);
    const json = await run(["shop", DEMO, ...asked, "--json"]);
    const whatif = await run(["whatif", DEMO, "--case", `now: --price "${prices[0]}"`, "--json"]);
    const money = (text: string) =>
      [...text.matchAll(/"(?:total|goods|delivery|cost|price|saves|change)":\s*(-?[\d.]+)/g)].map(
        ([, f]) => f!,
      );
    const inCsv = csv.stdout.match(/(?<=,)\d+\.\d+(?=,)/g) ?? [];
    const figures = [...money(json.stdout), ...money(whatif.stdout), ...inCsv];
    expect(figures.length).toBeGreaterThan(30);
    expect(figures.filter((text) => text.replace(/\D/g, "").replace(/^0+/, "").length > 12)).toEqual([]);
  });

  it("leaves over what bags hold less what is weighed, and calls no delivery free that is left out", async () => {
    const suppliers = "suppliers.grower-coop.free_over=50";
    const free = (await run(["solve", DEMO, "--set", suppliers])).stdout;
    // Two bags of the co-op, 82.50 in all, are above 50; 4 batches take 34.4, 10.9 and 2.8 lb.
    expect(free).toMatch(/Delivery +grower-coop +free/);
    for (const [bags, name, batch] of [
      [150, "Turkey litter pellets", 34.4],
      [50, "Feather meal", 10.9],
      [50, "Langbeinite, granular", 2.8],
    ] as const) {
      const left = new RegExp(`x 50 lb +${name}.* (\\d+) lb$`, "m").exec(free)!;
      expect([name, Number(left[1])]).toEqual([name, Math.round(bags - 4 * batch)]);
    }
    const weighed = (await run(["solve", DEMO, "--set", suppliers, "--by", "weight"])).stdout;
    expect(weighed).toContain("Total");
    expect(weighed).not.toMatch(/Delivery {2}| free$/m);
  });

  it("is worked again as it was asked, and nothing else in it is believed", async () => {
    const { stdout } = await run(["solve", DEMO, "--budget", "190", "--json"]);
    const solution = JSON.parse(stdout);
    const edited = {
      ...solution,
      cost: { ...solution.cost, total: 9, gap: 9 },
      status: "banana",
      purchases: [],
    };
    const again = await run(["solve", "-", "--json"], JSON.stringify(edited));
    expect(again.code).toBe(0);
    expect(JSON.parse(again.stdout)).toEqual(solution);
    // Flags go over what was asked.
    expect((await run(["solve", "-", "--budget", "100"], stdout)).code).toBe(3);
    const weighed = JSON.parse((await run(["solve", "-", "--by", "weight", "--json"], stdout)).stdout);
    expect(weighed.by).toBe("weight");
  });

  it("is refused where an earlier version wrote it, with what to do", async () => {
    for (const schema of ["barrowmix.solution/1", "barrowmix.shopping/1"]) {
      const { code, stderr } = await run(["card", "-"], JSON.stringify({ schema, inputs: {} }));
      expect(code).toBe(2);
      expect(stderr).toContain("solve the plan file again");
    }
  });
});

describe("JSON through a pipe that is no solution", () => {
  it.each([
    ["that breaks off", '{"schema": "barrowmix.solution/2"', "is not whole JSON"],
    ["of another kind", '{"schema": "barrowmix.sweep/2"}', "(schema barrowmix.solution/2)"],
    ["of no kind", '{"name": "Beds"}', "neither a plan nor what `solve --json` prints"],
    ["without its plans", '{"schema": "barrowmix.solution/2", "inputs": {}}', "(`inputs`)"],
  ])("is refused %s", async (_, text, words) => {
    const { code, stdout, stderr } = await run(["card", "-"], text);
    expect([code, stdout]).toEqual([2, ""]);
    expect(stderr).toContain(words);
  });
});

describe("what is gone", () => {
  it.each([
    [["solve", DEMO, "--bought"], "every answer is by purchase"],
    [["shop", DEMO, "--also", DEMO], "name the further plans"],
    [["solve", DEMO, "--best-split"], "blend: each"],
    [["whatif", DEMO, "--without", "kelp-meal"], "--exclude"],
    [["topup", DEMO, "--rain", "4 in"], "barrowmix now"],
    [["prices", "import", "list.csv"], "prices: [list.csv]"],
  ])("is refused with the words that replace it: %s", async (argv, words) => {
    const { code, stdout, stderr } = await run(argv);
    expect([code, stdout]).toEqual([2, ""]);
    expect(stderr).toContain(words);
  });
});
