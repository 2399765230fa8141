/** Farms on the command line: whatever is asked of a farm with changes is what the changed farm says. */
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { main } from "../../src/cli.ts";
import { loadFarmFile } from "../../src/index.ts";
import { solveFarm } from "../../src/library.ts";
import type { Comparison } from "../../src/results/comparison.ts";
import type { Solution } from "../../src/results/solution.ts";
import type { Sweep } from "../../src/results/sweep.ts";
import { seeds, slow } from "../helpers/seeds.ts";
import { testWorld } from "../helpers/world.ts";

let folder: string;
const write = (name: string, text: string): void => writeFileSync(join(folder, name), text);

const FARM = `farm: Two Stiles
amendments: amendments.yaml
most_mixes: 1
batch: {size: 60 lb}
scale: 0.25 lb
soil_temperature: 18 C
fields:
  bank: {credits: [{from: clover, per: 1000 sq ft, N: 0.3 lb}]}
beds:
  - {bed: corn, target: corn.yaml, area: 1200 sq ft, rounds: [0, 30]}
  - {bed: beets, target: beets.yaml, area: 800 sq ft, field: bank, rounds: [0]}
  - {bed: more corn, target: corn.yaml, area: 600 sq ft, rounds: [0, 30]}
`;

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "barrowmix-farm-"));
  // Prices, analyses and rates are invented.
  write(
    "amendments.yaml",
    [
      "amendments:",
      "  feather-meal: {analysis: {N: 13}, packs: [{size: 20 lb, price: 22}], release: medium}",
      "  potash: {analysis: {K2O: 50}, packs: [{size: 10 lb, price: 13}], release: at-once}",
      "  pellets: {analysis: {N: 4, P2O5: 3, K2O: 2}, packs: [{size: 40 lb, price: 14}], release: fast}",
      "",
    ].join("\n"),
  );
  write(
    "blood.yaml",
    "amendments:\n  blood: {analysis: {N: 12}, packs: [{size: 5 lb, price: 4}], release: fast}\n",
  );
  write(
    "corn.yaml",
    "target: Sweet corn\nseason: 90 days\nneed: {per: 1000 sq ft, N: 3 lb, P2O5: 1 lb, K2O: 2 lb}\n",
  );
  write("beets.yaml", "target: Beets\nseason: 70 days\nneed: {per: 1000 sq ft, N: 2 lb, K2O: 3 lb}\n");
  write("farm.yaml", FARM);
  write("alone.yaml", FARM.replace("most_mixes: 1", "most_mixes: 1\nalone: 1"));
  const plan = (name: string, target: string, area: number, more: string): string =>
    `plan: ${name}\namendments: amendments.yaml\ntarget: ${target}\nbed: {area: ${area} sq ft}\n` +
    `batch: {size: 60 lb}\nscale: 0.25 lb\nsoil_temperature: 18 C\n${more}`;
  const twice = "applications: [{name: round 1, day: 0}, {name: round 2, day: 30}]\n";
  write("corn-plan.yaml", plan("corn", "corn.yaml", 1200, twice));
  write("more-plan.yaml", plan("more corn", "corn.yaml", 600, twice));
  write(
    "beets-plan.yaml",
    plan("beets", "beets.yaml", 800, "credits: [{from: clover, per: 1000 sq ft, N: 0.3 lb}]\n"),
  );
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

async function run(...args: string[]) {
  const world = testWorld({ cwd: folder });
  const code = await main(args, world);
  return { code, ...world.written };
}
const json = async <T>(...args: string[]): Promise<T> => {
  const { stdout, stderr, code } = await run(...args, "--json");
  if (code !== 0) throw new Error(stderr);
  return JSON.parse(stdout) as T;
};
const known = new Map<string, Promise<Solution>>();
/** The answer; that of the farm as it is is worked out once. */
function solved(...args: string[]): Promise<Solution> {
  const key = args.join(" ");
  const answer = (key === "farm.yaml" ? known.get(key) : undefined) ?? json<Solution>("solve", ...args);
  known.set(key, answer);
  return answer;
}

describe("a farm on the command line", () => {
  it("is the same question as its beds as plans with --mixes", async () => {
    const farm = await solved("farm.yaml");
    const plans = await solved("corn-plan.yaml", "beets-plan.yaml", "more-plan.yaml", "--mixes", "1");
    expect(farm.mixes).toHaveLength(1);
    expect(plans.mixes).toEqual(farm.mixes);
    expect(plans.cost).toEqual(farm.cost);
    expect(plans.byMixes).toEqual(farm.byMixes);
    expect(plans.byMixes!.map(({ mixes }) => mixes)).toEqual([1, null]);
  });

  it("says that plans share a shed where they do, and nothing of it where they do not", async () => {
    const shared = "share one shed and one purchase";
    const files = ["corn-plan.yaml", "beets-plan.yaml"];
    expect((await run("solve", ...files)).stdout).toContain(`These plans ${shared}`);
    for (const args of [[...files, "--apart"], ["farm.yaml"], ["corn-plan.yaml"]])
      expect((await run("solve", ...args)).stdout).not.toContain(shared);
  });

  it("is solved by the library as by the command", async () => {
    const loaded = loadFarmFile(join(folder, "farm.yaml"));
    if (!loaded.ok) throw new Error(JSON.stringify(loaded.problems));
    const { byMixes, cost } = await solved("farm.yaml");
    const result = await solveFarm(loaded.value.farm);
    if (!result.ok) throw new Error(JSON.stringify(result.problems));
    expect(result.value.cost.total).toBe(cost.total);
    expect(result.value.byMixes).toEqual(byMixes);
  });

  it.each([
    ["--set soil_temperature=10C", FARM.replace("18 C", "10 C")],
    ["--set most_mixes=2", FARM.replace("most_mixes: 1", "most_mixes: 2")],
    ["--set beds.1.area=400sqft", FARM.replace("area: 800 sq ft", "area: 400 sq ft")],
    ...seeds<[string, string][]>([], [["--sure N=80%", `${FARM}sure: {N: 80%}\n`]]),
    ["--with blood.yaml", FARM.replace("amendments.yaml", "[amendments.yaml, blood.yaml]")],
  ])("whatif %s is what the changed farm costs", async (change, changed) => {
    write("changed.yaml", changed);
    const { base, cases } = await json<Comparison>("whatif", "farm.yaml", "--case", `it: ${change}`);
    const before = await solved("farm.yaml");
    const after = await solved("changed.yaml");
    expect(base.total).toBeCloseTo(before.cost.total!, 6);
    expect(cases[0]!.total).toBeCloseTo(after.cost.total!, 6);
    expect(after.cost.total).not.toBe(before.cost.total);
  });

  slow("is swept along a price: at each step what is solved at that price", async () => {
    const flags = ["--price", "feather-meal", "--from", "18/20 lb", "--to", "30/20 lb", "--steps", "2"];
    const { points, segments } = await json<Sweep>("sweep", "farm.yaml", ...flags);
    expect(segments).toEqual([]);
    for (const [k, price] of ["18", "24", "30"].entries()) {
      const { cost } = await solved("farm.yaml", "--price", `feather-meal=${price}/20 lb`);
      expect(points[k]!.total).toBeCloseTo(cost.total!, 6);
    }
    const need = await run("sweep", "farm.yaml", "--need", "N", "--from", "1 lb", "--to", "2 lb");
    expect(need.code).toBe(2);
    expect(need.stderr).toContain("sweep follows one price");
  });

  it("makes each bed as sure as asked by its own seasons, and one heap serves all rounds", async () => {
    write("sure.yaml", `${FARM}sure: {N: 85%}\n`);
    const { beds, mixes, rounding, cost } = await solved("sure.yaml");
    expect(cost.total).toBeGreaterThan((await solved("farm.yaml")).cost.total!);
    for (const { sure } of beds) {
      const need = sure!.needs.find(({ nutrient }) => nutrient === "N")!;
      expect(need.pChecked ?? need.p).toBeGreaterThan(0.85 - 0.0025 - 1e-9);
    }
    const [{ kg, batches }] = mixes as [Solution["mixes"][number]];
    const given = beds.flatMap(({ rounds, bedsAlike }) => rounds.map((round) => bedsAlike * round.kg));
    expect(given.reduce((sum, one) => sum + one, 0)).toBeCloseTo(kg, 9);
    const taken = beds.flatMap((bed) => bed.rounds.map(({ batchesTaken }) => bed.bedsAlike * batchesTaken));
    expect(taken.reduce((sum, one) => sum + one, 0)).toBeCloseTo(batches.count, 9);
    // All beds are looked at again with the weights as they are rounded to the scale.
    expect(Math.abs(batches.kgEach * batches.count - kg)).toBeLessThan(rounding.scaleKg * batches.count);
    expect(rounding.worstShortfall.fraction).toBeLessThan(0.03);
  });

  it("begins with `init --farm`, which checks and solves with all its beds", async () => {
    const made = await run("init", "new", "--farm", "--recipe", "tomato", "--area", "900 sq ft", "--yes");
    expect(made.code).toBe(0);
    const file = join(folder, "new", "farm.yaml");
    write("new/farm.yaml", readFileSync(file, "utf8").replace(/^ {2}# - /gm, "  - "));
    expect((await run("check", "new/farm.yaml")).code).toBe(0);
    const { beds, mixes } = await solved("new/farm.yaml");
    expect(beds.map(({ bed }) => bed)).toEqual(["tomato 1", "kale", "lettuce"]);
    expect(mixes.length).toBeLessThanOrEqual(2);
    expect((await run("init", "new", "--farm", "--recipe", "kale", "--area", "9 m2", "--yes")).code).toBe(2);
  });
});

describe("a farm in which a bed may get one material alone", () => {
  slow(
    "costs no more, says on each page what goes straight from its bag, and takes it from what is bought",
    async () => {
      const [plain, alone] = [await solved("farm.yaml"), await solved("alone.yaml")];
      expect(alone.cost.total!).toBeLessThanOrEqual(plain.cost.total! + 1e-9);
      expect(alone.cost.bound!).toBeLessThanOrEqual(alone.cost.total! + 1e-9);
      const given = alone.beds.flatMap(({ rounds, bedsAlike }) =>
        rounds.flatMap((round) => round.alone.map(({ id, kg }) => ({ id, kg: kg * bedsAlike }))),
      );
      expect(given.length).toBeGreaterThan(0);
      for (const { id, usedKg, boughtKg } of alone.purchases) {
        const stirred = alone.mixes.flatMap(({ materials }) => materials.filter((one) => one.id === id));
        const all = [...stirred, ...given.filter((one) => one.id === id)];
        expect(all.reduce((sum, { kg }) => sum + kg, 0)).toBeCloseTo(usedKg, 6);
        expect(usedKg).toBeLessThanOrEqual(boughtKg * (1 + 1e-9));
      }
      // No bed gets more than one.
      for (const { rounds } of alone.beds)
        expect(new Set(rounds.flatMap((round) => round.alone.map(({ id }) => id))).size).toBeLessThanOrEqual(
          1,
        );
      const page = (await run("solve", "alone.yaml")).stdout;
      expect(page).toContain("goes on straight from its bag");
      expect((await run("card", "alone.yaml")).stdout).toContain("from its bag");
      const csv = (await run("solve", "alone.yaml", "--format", "csv")).stdout;
      expect(csv.split("\r\n").filter((line) => line.includes(",,,,"))).not.toEqual([]);
      // Worked again from its own JSON it is the same.
      const world = testWorld({ cwd: folder, stdin: JSON.stringify(alone) });
      expect(await main(["solve", "-", "--json"], world)).toBe(0);
      expect((JSON.parse(world.written.stdout) as Solution).cost).toEqual(alone.cost);
    },
  );

  it("counts what is given alone towards a limit of weight, and not towards a share of the mix", async () => {
    const limited = (limits: string) =>
      FARM.replace("most_mixes: 1", `most_mixes: 1\nalone: 1\nlimits: ${limits}`);
    write("most.yaml", limited("{potash: {max: 10 lb}, feather-meal: {max_share: 30%}}"));
    const { beds, mixes, status } = await solved("most.yaml");
    expect(status).not.toBe("infeasible");
    const potash = (list: readonly { readonly id: string; readonly kg: number }[]): number =>
      list.reduce((sum, { id, kg }) => sum + (id === "potash" ? kg : 0), 0);
    const alone = beds.flatMap(({ rounds }) => rounds.flatMap((round) => round.alone));
    const inAll = potash(mixes.flatMap(({ materials }) => materials)) + potash(alone);
    expect(inAll).toBeLessThanOrEqual(10 * 0.45359237 * (1 + 1e-6));
    for (const { materials } of mixes)
      for (const { id, share } of materials)
        if (id === "feather-meal") expect(share).toBeLessThanOrEqual(0.3 + 1e-9);
  });

  it("refuses more than one, with the line", async () => {
    write("two.yaml", FARM.replace("most_mixes: 1", "most_mixes: 1\nalone: 2"));
    const { code, stdout, stderr } = await run("solve", "two.yaml");
    expect([code, stdout]).toEqual([2, ""]);
    expect(stderr).toMatch(/two\.yaml:4:8: .*2/);
    expect(stderr).toContain("0 or 1");
  });
});

// Shipped amendments are sold by the bag and loose at once: many nearly parallel tangents, and money between the two.
describe("a farm with all that ships to choose from", () => {
  slow(
    "has a proven purchase for its mixes, which none of their ladder exceeds",
    { timeout: 120_000 },
    async () => {
      write(
        "shipped.yaml",
        `farm: Shipped
units: us
amendments: [{recipe: all}]
most_mixes: 2
alone: 1
scale: 0.5 lb
fields:
  a: {soil_temperature: 66 F}
  b: {soil_temperature: 60 F, credits: [{from: clover, per: 1000 sq ft, N: 0.5 lb, release: medium, day: -14}]}
beds:
  - {bed: celery, recipe: celery, area: 2002 sq ft, plants: 367, field: a, rounds: [35], mix: A}
  - {bed: watermelon, recipe: watermelon, area: 3555 sq ft, plants: 434, field: a, rounds: [0]}
  - {bed: garlic, recipe: garlic, area: 572 sq ft, field: b, rounds: [0, 14, 20, 28]}
  - {bed: cucumber, recipe: cucumber, area: 3054 sq ft, field: a, rounds: [28]}
`,
      );
      const { status, byMixes = [] } = await json<Solution>("solve", "shipped.yaml", "--time-limit", "30");
      // Which beds share a mix may stay open; each purchase is there.
      expect(["optimal", "found"]).toContain(status);
      // Three mixes and one for each bed are the purchases of their divisions, settled to the last kilogram.
      const totals = byMixes.flatMap(({ total, gap }) => (total === null ? [] : [{ total, gap: gap ?? 0 }]));
      expect(totals.length).toBeGreaterThan(2);
      for (const [k, { total }] of totals.entries())
        if (k > 0) expect(total).toBeLessThanOrEqual(totals[k - 1]!.total + 1e-6);
      expect(totals.at(-1)!.gap).toBeLessThan(1e-4);
    },
  );
});

describe("a farm whose beds are to meet their needs together", () => {
  slow("keeps that in every bed, worked over seasons", { timeout: 120_000 }, async () => {
    write("together.yaml", `${FARM}sure: {together: 70%}\n`);
    const { beds } = await json<Solution>("solve", "together.yaml");
    expect(beds.length).toBe(3);
    for (const { bed, sure } of beds) expect(sure!.together, bed).toBeGreaterThanOrEqual(0.7 - 0.0025);
  });
});
