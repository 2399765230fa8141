import { join } from "node:path";
import { describe, expect, it, vi } from "vitest";
import { main } from "../../src/cli.ts";
import { nodeWorld } from "../../src/commands/node-world.ts";
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
    const csv = await run(["shop", "-", "--format", "csv", "--quiet"], solved.stdout);
    expect(csv.code).toBe(0);
    expect(csv.stdout.split("\r\n")[0]).toBe(
      "supplier,what,id,count,size_lb,weight_lb,price_each,cost,amendment,status,conflict,demand",
    );
    const metric = await run(["shop", "-", "--format", "csv", "--units", "metric", "--quiet"], solved.stdout);
    expect(metric.stdout.split("\r\n")[0]).toContain("size_kg");
  });

  it("takes a plan file from the pipe, in YAML or JSON", async () => {
    const yaml = `{plan: Bed, bed: {area: 100 m2}, target: {target: Crop, season: 90 days, need: {per: bed, N: 1 kg}},
      amendments: {meal: {name: Meal, analysis: {N: 10}, packs: [{size: 25 kg, price: 20}]}}}`;
    expect(JSON.parse((await run(["shop", "-", "--json"], yaml)).stdout)).toMatchObject({ total: 20 });
    const json = JSON.stringify({
      plan: "Bed",
      bed: { area: "100 m2" },
      target: { target: "Crop", season: "90 days", need: { per: "bed", N: "1 kg" } },
      amendments: { meal: { name: "Meal", analysis: { N: 10 }, packs: [{ size: "25 kg", price: 20 }] } },
    });
    expect(JSON.parse((await run(["shop", "-", "--json"], json)).stdout)).toMatchObject({ total: 20 });
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
    for (const inputs of [undefined, null, 3, {}, { ...solution.inputs, amendments: "none" }]) {
      const refused = await run(["shop", "-"], JSON.stringify({ ...solution, inputs }));
      expect(refused.code).toBe(2);
      expect(refused.stderr).toContain("[stdin-inputs]");
    }
    const flagged = await run(["shop", "-", "--plants", "12"], stdout);
    expect(flagged.code).toBe(2);
    expect(flagged.stderr).toContain("--plants changes the plan");
  });
});

describe("shop and its flags", () => {
  it("takes budgets, leftovers and limits in the forms that people write", async () => {
    const total = async (...flags: string[]) => {
      const { code, stdout } = await run(["shop", DEMO, "--json", ...flags]);
      return [code, JSON.parse(stdout).total];
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
    const { code, stderr } = await run(["shop", "no.yaml", "--also", "neither.yaml"]);
    expect(code).toBe(2);
    expect(stderr).toContain("no.yaml");
    expect(stderr).toContain("neither.yaml");
  });

  it("buys for two plans in one trip", async () => {
    const alone = JSON.parse((await run(["shop", DEMO, "--json"])).stdout);
    const { code, stdout } = await run(["shop", DEMO, "--also", DEMO, "--json"]);
    const both = JSON.parse(stdout);
    expect(code).toBe(0);
    expect(both.plans).toHaveLength(2);
    expect(both.also).toHaveLength(1);
    expect(both.total).toBeLessThan(2 * alone.total);
    expect((await run(["shop", DEMO, "--also", DEMO, "--all"])).stdout).toContain("The mix on these packs");
  });
});

describe("a purchase that is saved", () => {
  const files = (text: string) => ({
    read: (path: string) => (path.endsWith("/purchase.json") ? text : nodeWorld(ROOT).files.read(path)),
  });
  async function with_(text: string, argv: readonly string[]) {
    const world = testWorld({ files: files(text) });
    const code = await main(argv, world);
    return { code, ...world.written };
  }

  it("is what --json prints, and makes the card that --bought makes", async () => {
    const saved: Record<string, string> = {};
    const world = testWorld({
      files: {
        create: (path) => ({
          commit: (text) => {
            saved[path] = text;
          },
        }),
      },
    });
    expect(await main(["shop", DEMO, "--save", "purchase.json"], world)).toBe(0);
    expect(world.written.stderr).toBe("Wrote purchase.json.\n");
    const text = saved[join(ROOT, "purchase.json")]!;
    expect(text).toBe((await run(["shop", DEMO, "--json"])).stdout);
    const direct = await run(["card", "--bought", DEMO]);
    expect(direct.code).toBe(0);
    for (const given of [await with_(text, ["card", "purchase.json"]), await run(["card", "-"], text)]) {
      expect(given).toEqual(direct);
    }
    expect((await with_(text, ["card", "purchase.json", "--format", "html"])).stdout).toBe(
      (await run(["card", "--bought", DEMO, "--html"])).stdout,
    );
    const solved = await run(["solve", "--bought", DEMO, "--json"]);
    const again = await with_(text, ["solve", "purchase.json", "--json"]);
    expect(JSON.parse(again.stdout)).toEqual(JSON.parse(solved.stdout));
    // What solve prints of it carries the mix on packs along, too.
    expect((await run(["card", "-"], solved.stdout)).stdout).toBe(direct.stdout);
    expect(JSON.parse((await run(["shop", "-", "--json"], text)).stdout)).toEqual(JSON.parse(text));
    expect((await with_(text, ["topup", "purchase.json", "--rain", "4 in", "--on", "30"])).code).toBe(0);
  });

  it("names nothing on the card that was not bought or in the shed", async () => {
    const shopping = JSON.parse((await run(["shop", DEMO, "--json"])).stdout);
    const card = await run(["card", "--bought", DEMO, "--format", "csv"]);
    const [head, ...rows] = card.stdout.trimEnd().split("\r\n");
    const id = head!.split(",").indexOf("id");
    const used = shopping.purchases.filter((line: { usedKg: number }) => line.usedKg > 0);
    expect([...new Set(rows.map((row) => row.split(",")[id]))].sort()).toEqual(
      used.map((line: { id: string }) => line.id).sort(),
    );
  });

  it("makes a card for each bed", async () => {
    const args = ["card", "--bought", DEMO, "--also", DEMO, "--set"];
    const { stdout, code } = await run(args.slice(0, 5));
    expect(code).toBe(0);
    expect(stdout.split("heads forming, day 50: ").length - 1).toBe(2);
    const html = await run([...args.slice(0, 5), "--html"]);
    expect(html.stdout.split("<article>").length - 1).toBeGreaterThanOrEqual(2);
  });

  it("is refused with a sentence where it is not whole", async () => {
    const { stdout } = await run(["shop", DEMO, "--json"]);
    const whole = JSON.parse(stdout);
    const without = (field: string) => JSON.stringify({ ...whole, [field]: undefined });
    for (const field of ["inputs", "mixes", "purchases", "verification", "total", "gap", "plans"]) {
      const { code, stderr, stdout } = await with_(without(field), ["card", "purchase.json"]);
      expect([code, stdout], field).toEqual([2, ""]);
      expect(stderr, field).toMatch(/purchase\.json/);
      expect(stderr).not.toMatch(/undefined|\n {4}at /);
    }
    const less = JSON.stringify({ ...whole, total: 10 });
    expect((await with_(less, ["card", "purchase.json"])).stderr).toMatch(
      /\$10\.00 in all, and its lines come to/,
    );
    const other = JSON.stringify({ schema: "barrowmix.sweep/1" });
    expect((await with_(other, ["card", "purchase.json"])).stderr).toMatch(/JSON of another kind/);
    expect((await with_(stdout, ["card", "purchase.json", "--plants", "3"])).code).toBe(2);
  });

  it("cannot be saved over what is read, or be the output as well", async () => {
    expect((await run(["shop", DEMO, "--save", DEMO])).stderr).toMatch(/would overwrite a file that is read/);
    expect((await run(["shop", DEMO, "--save", "x.json", "--out", "x.json"])).stderr).toMatch(
      /both name x.json/,
    );
    expect((await run(["card", DEMO, "--also", DEMO])).stderr).toMatch(/--also goes with --bought/);
  });

  it("says why where there is none, and leaves no file", async () => {
    const few = ["feather-meal", "turkey-litter-pellets", "kelp-meal"];
    const little = ["--only", few.join(","), ...few.flatMap((id) => ["--set", `limits.${id}={max: 1 lb}`])];
    for (const command of [["card"], ["solve"], ["topup", "--rain", "4 in", "--on", "30"]]) {
      const { code, stdout } = await run([...command, "--bought", DEMO, ...little]);
      expect(code, command[0]).toBe(3);
      expect(stdout).toMatch(/What cannot hold together/);
    }
    const made: string[] = [];
    const create = () => ({ commit: (text: string) => made.push(text) });
    const world = testWorld({ files: { create } });
    expect(await main(["shop", DEMO, ...little, "--save", "x.json"], world)).toBe(3);
    expect(made).toEqual([]);
  });
});
