/** Flags that several commands share: plans without files, `plan.yaml`, pipes, other names, repeats, endings. */
import { spawn } from "node:child_process";
import { cpSync, mkdtempSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { main } from "../../src/cli.ts";
import { nodeWorld } from "../../src/commands/node-world.ts";
import type { Comparison } from "../../src/results/comparison.ts";
import type { Solution } from "../../src/results/solution.ts";
import { type OneBed, unfolded } from "../helpers/answers.ts";
import { slow } from "../helpers/seeds.ts";
import { ROOT, type TestWorldOptions, testWorld } from "../helpers/world.ts";

const LB = 0.45359237;
const PLAN = join(ROOT, "tests/cases/two-meals/plan.yaml");
const HAVE = [
  ...["--have", "blood-meal@60/50 lb", "--have", "bone-meal@48/40 lb"],
  ...["--have", "potassium-sulfate@0.90/lb", "--have", "poultry-pellets@14/50 lb"],
];
const BED = ["--recipe", "pepper", "--plants", "240", "--area", "1500 sq ft"];

async function run(args: readonly string[], options: TestWorldOptions = {}) {
  const world = testWorld(options);
  const code = await main(args, world);
  return { code, ...world.written };
}

async function solution(args: readonly string[], options: TestWorldOptions = {}): Promise<OneBed> {
  const { code, stdout, stderr } = await run([...args, "--json"], options);
  expect([code, stderr]).toEqual([0, ""]);
  return unfolded(JSON.parse(stdout) as Solution);
}

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "barrowmix-flags-"));
});
afterEach(() => {
  rmSync(folder, { recursive: true, force: true });
});

describe("--have", () => {
  it("chooses from these shipped amendments at these prices, and from nothing else", async () => {
    const { plan: inputs } = await solution(["solve", ...HAVE, ...BED]);
    expect(inputs.amendments.map((a) => a.id)).toEqual([
      "blood-meal",
      "bone-meal",
      "potassium-sulfate",
      "poultry-pellets",
    ]);
    const byId = new Map(inputs.amendments.map((a) => [a.id, a]));
    const [pack, ...more] = byId.get("blood-meal")!.packs;
    expect([pack!.price, more]).toEqual([60, []]);
    expect(pack!.sizeKg).toBeCloseTo(50 * LB, 9);
    expect(byId.get("potassium-sulfate")!.packs).toEqual([]);
    expect(byId.get("potassium-sulfate")!.bulkPricePerKg).toBeCloseTo(0.9 / LB, 9);
  });

  slow("serves shop, whatif, sweep and card too", async () => {
    for (const args of [
      ["shop"],
      ["card"],
      ["whatif", "--case", "dear: --price blood-meal=+10%"],
      ["sweep", "--price", "blood-meal", "--from", "-10%", "--to", "+10%"],
    ])
      expect([args, (await run([...args, ...HAVE, ...BED])).code]).toEqual([args, 0]);
  });

  it.each([
    [["--have", "blod-meal@60/50 lb"], /no amendment called `blod-meal` ships; did you mean `blood-meal`\?/],
    [["--have", "blood-meal"], /write an id, `@`, a price/],
    [["--have", "blood-meal@60/50"], /--have: `50` has no unit/],
    [["--have", "blood-meal@1/lb", "--have", "blood-meal@2/kg"], /two loose prices/],
    [["--have", "blood-meal@60/50 lb", "--only", "bone-meal"], /not among the ids of --have/],
    [["--have", "blood-meal@60/50 lb", "--amendments", "a.yaml"], /either --amendments or --have/],
    [[PLAN, "--have", "blood-meal@60/50 lb"], /--have is for a plan without a file/],
  ])("refuses %j", async (args, message) => {
    const { code, stdout, stderr } = await run(["solve", ...args, ...(args[0] === PLAN ? [] : BED)]);
    expect([code, stdout]).toEqual([2, ""]);
    expect(stderr).toMatch(message);
  });
});

describe("shipped amendments by name", () => {
  it("serve wherever an amendments file may be named, with a warning about their prices", async () => {
    const { plan: inputs, warnings } = await solution([
      ...["solve", ...BED, "--amendments", "blood-meal", "--amendments", "bone-meal"],
      ...["--amendments", "potassium-sulfate", "--amendments", "poultry-pellets"],
    ]);
    expect(inputs.amendments.map(({ id }) => id)).toContain("bone-meal");
    expect(inputs.amendments.every(({ placeholder }) => placeholder)).toBe(true);
    expect(warnings.filter(({ code }) => code === "placeholder-price")).toHaveLength(1);
    const { code, stdout } = await run(["whatif", PLAN, "--with", "blood-meal", "--json"]);
    expect([code, (JSON.parse(stdout) as Comparison).cases[0]!.status]).toEqual([0, "optimal"]);
  });

  it("give way to a file of that name, and are asked for by their very id", async () => {
    writeFileSync(
      join(folder, "blood-meal"),
      "amendments: {blood-meal: {analysis: {N: 10}, packs: [{size: 50 lb, price: 1}]}}\n",
    );
    const at = { cwd: folder };
    const own = await solution(["solve", PLAN, "--amendments", "blood-meal"], at);
    expect(own.plan.amendments.map(({ analysis }) => analysis.N)).toEqual([0.1]);
    const { code, stderr } = await run(["solve", ...BED, "--amendments", "blod-meal"], at);
    expect([code, stderr]).toEqual([2, expect.stringContaining("`blod-meal` is not there")]);
  });
});

describe("the plan at hand", () => {
  it("is ./plan.yaml where none is named, with the flags over it", async () => {
    cpSync(join(ROOT, "tests/cases/two-meals"), folder, { recursive: true });
    const at = { cwd: folder };
    expect((await solution(["solve"], at)).cost.total).toBeCloseTo(
      (await solution(["solve", PLAN])).cost.total!,
      9,
    );
    expect((await solution(["solve", "--plants", "77"], at)).plan.bed.plants).toBe(77);
    expect((await run(["card"], at)).code).toBe(0);
    rmSync(join(folder, "plan.yaml"));
    const none = await run(["solve"], at);
    expect([none.code, none.stderr]).toEqual([2, expect.stringContaining("say which plan")]);
  });

  it.each([["solve"], ["card"], ["shop"], ["whatif", "--price", "all=+5%"]])(
    "may come through a pipe from `solve --json`: %j",
    async (...args) => {
      const { stdout: stdin } = await run(["solve", PLAN, "--json"]);
      const piped = await run([args[0]!, "-", ...args.slice(1), "--json"], { stdin });
      const named = await run([args[0]!, PLAN, ...args.slice(1), "--json"]);
      expect([piped.code, piped.stderr, JSON.parse(piped.stdout)]).toEqual([0, "", JSON.parse(named.stdout)]);
      const changed = await run([args[0]!, "-", ...args.slice(1), "--plants", "9"], { stdin });
      expect(changed.code).toBe(2);
      expect(changed.stderr).toContain("--plants changes the plan");
    },
  );
});

describe("other names and repeats", () => {
  slow("takes an old name for a flag, and does not show it", async () => {
    const bed = ["--plants", "240", "--area", "1500 sq ft"];
    const now = await run([
      "solve",
      ...HAVE,
      "--recipe",
      "pepper",
      ...bed,
      "--exclude",
      "bone-meal",
      "--json",
    ]);
    const old = await run(["solve", ...HAVE, "--crop", "pepper", ...bed, "--exclude", "bone-meal", "--json"]);
    expect(old).toEqual(now);
    expect((await run(["solve", "--help"])).stdout).not.toMatch(/--crop/);
    const both = await run(["solve", ...HAVE, "--crop", "kale", "--recipe", "pepper", ...bed]);
    expect([both.code, both.stderr]).toEqual([
      2,
      expect.stringContaining("--crop is --recipe; give it once"),
    ]);
  });

  it("adds up what may be repeated", async () => {
    const only = ["--only", "feather-meal", "--only", "poultry-pellets"];
    expect((await solution(["solve", PLAN, ...only])).plan.amendments).toHaveLength(2);
    const three = await solution(["solve", ...HAVE, ...BED, "--exclude", "bone-meal"]);
    const two = await run([
      ...["solve", ...HAVE, ...BED, "--json"],
      ...["--exclude", "bone-meal", "--exclude", "blood-meal"],
    ]);
    expect(three.plan.amendments).toHaveLength(3);
    expect(unfolded(JSON.parse(two.stdout) as Solution).plan.amendments).toHaveLength(2);
  });

  it.each([
    [["--plants", "9", "--plants", "10"], "--plants is given twice"],
    [["--units", "us", "--units", "us"], "--units is given twice"],
    [["--format", "csv", "--format", "md"], "--format is given twice"],
    [["--set", "scale=1 lb", "--set", "scale=2 lb"], "--set scale is given twice"],
    [["--scale", "1 lb", "--set", "scale=2 lb"], "use either --scale or --set scale, not both"],
  ])("refuses what would be dropped: %j", async (flags, message) => {
    const { code, stdout, stderr } = await run(["solve", PLAN, ...flags]);
    expect([code, stdout]).toEqual([2, ""]);
    expect(stderr).toContain(message);
  });
});

describe("--out", () => {
  it.each(["json", "csv", "md"])("takes the format from the ending .%s", async (ending) => {
    const { code } = await run(["solve", PLAN, "--out", `mix.${ending}`], { cwd: folder });
    expect(code).toBe(0);
    const plain = await run(["solve", PLAN, "--format", ending]);
    expect(readFileSync(join(folder, `mix.${ending}`), "utf8")).toBe(plain.stdout);
  });

  it("knows .txt, .ndjson and .html, and refuses what it does not know", async () => {
    const at = { cwd: folder };
    for (const args of [
      ["solve", PLAN, "--out", "mix.txt"],
      ["whatif", PLAN, "--price", "all=+5%", "--out", "cases.ndjson"],
      ["card", PLAN, "--out", "card.html"],
      ["completion", "bash", "--out", "barrowmix.bash"],
    ])
      expect([args, (await run(args, at)).code]).toEqual([args, 0]);
    expect(readFileSync(join(folder, "card.html"), "utf8")).toMatch(/^<!doctype html>/i);
    const { code, stderr } = await run(["solve", PLAN, "--out", "mix.xlsx"], at);
    expect(code).toBe(2);
    expect(stderr).toContain("no format here goes with the ending .xlsx; end it in .json");
    expect(readdirSync(folder)).not.toContain("mix.xlsx");
  });

  it("keeps the rights of a file whatever the usual ones are", async () => {
    writeFileSync(join(folder, "mix.json"), "{}");
    const before = process.umask(0o077);
    try {
      const { chmodSync } = await import("node:fs");
      chmodSync(join(folder, "mix.json"), 0o664);
      expect((await run(["solve", PLAN, "--out", "mix.json"], { cwd: folder })).code).toBe(0);
    } finally {
      process.umask(before);
    }
    expect(statSync(join(folder, "mix.json")).mode & 0o777).toBe(0o664);
  });

  it("listens for signals once in a turn, however many files are written in it, and not after it", async () => {
    const { files } = nodeWorld(ROOT);
    const turn = () => new Promise((done) => setImmediate(done));
    await turn();
    const before = process.listenerCount("SIGTERM");
    for (let i = 0; i < 20; i++) files.create(join(folder, `${i}.txt`)).commit("text");
    expect(process.listenerCount("SIGTERM")).toBe(before + 1);
    await turn();
    expect(process.listenerCount("SIGTERM")).toBe(before);
    expect(readdirSync(folder).length).toBe(20);
  });

  // A sweep of many steps keeps the program busy without a pause; the default action of a signal needs none.
  it.each(["SIGINT", "SIGTERM"] as const)(
    "does not keep %s waiting, and leaves nothing behind",
    async (signal) => {
      const args = ["sweep", join(ROOT, "examples/brassica-terraces/plan.yaml"), "--price", "feather-meal"];
      const child = spawn(
        process.execPath,
        [
          join(ROOT, "bin/barrowmix.cjs"),
          ...args,
          ...[
            "--from",
            "-90%",
            "--to",
            "+900%",
            "--steps",
            "100000",
            "--by",
            "weight",
            "--out",
            "sweep.json",
          ],
        ],
        { cwd: folder, stdio: "ignore" },
      );
      await new Promise((done) => setTimeout(done, 400));
      const ended = new Promise<NodeJS.Signals | null>((done) => child.on("exit", (_, by) => done(by)));
      child.kill(signal);
      expect(await ended).toBe(signal);
      expect(readdirSync(folder)).toEqual([]);
    },
  );
});

describe("exit code 3", () => {
  it("is given where every case of a what-if is without a mix", async () => {
    const all = await run(["whatif", PLAN, "--case", "no meal: --exclude feather-meal", "--json"]);
    expect((JSON.parse(all.stdout) as Comparison).cases.map((one) => one.status)).toEqual(["infeasible"]);
    expect(all.code).toBe(3);
    const some = await run([
      ...["whatif", PLAN, "--case", "no meal: --exclude feather-meal"],
      ...["--case", "dear: --price all=+5%"],
    ]);
    expect(some.code).toBe(0);
  });
});

describe("amendments that flags name", () => {
  it.each(["Bone meal", "bone-meal", " BONE  MEAL "])("may be written as names are: %s", async (name) => {
    const { plan: inputs } = await solution(["solve", ...HAVE, ...BED, "--exclude", name]);
    const left = inputs.amendments.map(({ id }) => id);
    expect(left).toEqual(["blood-meal", "potassium-sulfate", "poultry-pellets"]);
  });

  it("are parted by commas", async () => {
    const { plan: inputs } = await solution([
      "solve",
      ...HAVE,
      ...BED,
      "--only",
      "Blood meal, potassium-sulfate,Poultry pellets",
    ]);
    expect(inputs.amendments.map(({ id }) => id)).toEqual([
      "blood-meal",
      "potassium-sulfate",
      "poultry-pellets",
    ]);
  });
});

describe("the warnings of a plan without a mix", () => {
  it.each([["solve"], ["card"]])("stay beside CSV, %s", async (...args) => {
    const plan = {
      plan: "Without a mix",
      amendments: {
        meal: { analysis: { N: 13 }, kind: "animal", packs: [{ size: "50 lb", price: 50 }] },
      },
      target: { target: "Any crop", season: "90 days", need: { per: "bed", N: "3 lb" } },
      bed: { area: "1000 sq ft" },
      limits: { meal: { max: "1 lb" } },
    };
    const file = join(folder, "plan.yaml");
    writeFileSync(file, JSON.stringify(plan));
    const { code, stdout, stderr } = await run([args[0]!, file, ...args.slice(1), "--format", "csv"]);
    expect(code).toBe(3);
    expect(stdout).toContain(",infeasible,");
    expect(stderr).toContain("meal has no `release`");
  });
});
