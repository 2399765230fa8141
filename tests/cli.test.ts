/** The command line: exit codes, streams, files that come to be whole or not at all, and the program as it is installed. */
import { execFileSync, spawnSync } from "node:child_process";
import {
  chmodSync,
  cpSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  symlinkSync,
  writeFileSync,
} from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, beforeAll, beforeEach, describe, expect, it, vi } from "vitest";
import { main } from "../src/cli.ts";
import type { Solution } from "../src/results/solution.ts";
import { type OneBed, unfolded } from "./helpers/answers.ts";
import { seeds, slow } from "./helpers/seeds.ts";
import { ROOT, type TestWorldOptions, testWorld } from "./helpers/world.ts";

const CASES = join(ROOT, "tests/cases");
const PLAN = join(CASES, "two-meals/plan.yaml");
const ESCAPE = String.fromCharCode(27);
const LB = 0.45359237;

// Some of these start programs; on a busy machine that takes longer than the usual limit.
vi.setConfig({ testTimeout: 60_000 });

async function run(args: readonly string[], options: TestWorldOptions = {}) {
  const world = testWorld(options);
  const code = await main(args, world);
  return { code, ...world.written };
}

async function solveJson(args: readonly string[]): Promise<OneBed> {
  const { code, stdout, stderr } = await run(["solve", ...args, "--json"]);
  expect(stderr).toBe("");
  expect(code).toBe(0);
  return unfolded(JSON.parse(stdout) as Solution);
}

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "barrowmix-test-"));
});
afterEach(() => {
  vi.doUnmock("../src/flow/answer.ts");
  rmSync(folder, { recursive: true, force: true });
});

describe("what solve prints for scripts", () => {
  // Closed form: need N 3 lb, applied P2O5 at most 1.5 lb; pellets 4-3-2 at 0.30/lb, feather meal 13-0-0 at 1.00/lb.
  // The cap gives pellets 1.5/0.03 = 50 lb, feather meal (3 - 0.04 x 50)/0.13 lb; N is worth 1/0.13 a pound.
  it("is the answer of the closed form", async () => {
    const solution = await solveJson([PLAN, "--by", "weight"]);
    const kg = Object.fromEntries(solution.amendments.map((a) => [a.id, a.kg]));
    expect(solution.schema).toBe("barrowmix.solution/2");
    expect(kg["poultry-pellets"]).toBeCloseTo(50 * LB, 6);
    expect(kg["feather-meal"]).toBeCloseTo((1 / 0.13) * LB, 6);
    expect(solution.cost.total).toBeCloseTo(15 + 1 / 0.13, 6);
    expect(solution.nutrients.find((n) => n.nutrient === "N")?.shadowPricePerKg).toBeCloseTo(
      1 / 0.13 / LB,
      6,
    );
  });

  // After the method of University of Georgia Circular 853 (converting an inorganic recommendation), own numbers: the
  // nutrients of 20 lb of 5-10-15 on 1000 sq ft, here 1500 sq ft. Bone meal 3/0.15 = 20 lb brings 0.6 lb N; blood meal
  // (1.5 - 0.6)/0.12 = 7.5 lb; potassium sulfate 4.5/0.5 = 9 lb.
  it("is the same from a plan file and from flags alone", async () => {
    const conversion = join(CASES, "organic-conversion");
    const fromFile = await solveJson([join(conversion, "plan.yaml")]);
    const fromFlags = await solveJson([
      ...["--amendments", join(conversion, "amendments.yaml"), "--target", join(conversion, "target.yaml")],
      ...["--area", "1500 sq ft", "--scale", "0.1 lb"],
    ]);
    for (const solution of [fromFile, fromFlags]) {
      const lb = Object.fromEntries(solution.amendments.map((a) => [a.id, a.kg / LB]));
      expect(Object.keys(lb).sort()).toEqual(["blood-meal", "bone-meal", "potassium-sulfate"]);
      expect(lb["bone-meal"]).toBeCloseTo(20, 6);
      expect(lb["blood-meal"]).toBeCloseTo(7.5, 6);
      expect(lb["potassium-sulfate"]).toBeCloseTo(9, 6);
    }
    expect(fromFlags.cost.total!).toBeCloseTo(fromFile.cost.total!, 9);
  });

  it("is the same, byte for byte, every time", async () => {
    const first = await run(["solve", PLAN, "--json"]);
    expect(await run(["solve", PLAN, "--json"])).toEqual(first);
    expect(first.stdout).toBe(`${JSON.stringify(JSON.parse(first.stdout), null, 2)}\n`);
  });

  it("takes every field of a plan from a flag", async () => {
    const solution = await solveJson([
      PLAN,
      ...["--plants", "80", "--area", "93 m2", "--rows", "4", "--row-length", "12 m", "--batch", "30 L"],
      ...["--scale", "10 g", "--blend", "each", "--currency", "EUR", "--soil-temperature", "15 C"],
      ...[
        "--only",
        "feather-meal, poultry-pellets",
        "--exclude",
        "poultry-pellets",
        "--least",
        "1 kg",
        "--most",
        "2",
      ],
      ...["--units", "metric", "--set", "harvest.first=75", "--set", "harvest.touches_soil=false"],
      ...["--set", "applications=[{name: early, day: 0}, {name: late, day: 30}]"],
    ]);
    const { plan: inputs } = solution;
    expect(inputs.bed).toEqual({ plants: 80, areaM2: 93, rows: 4, rowLengthM: 12 });
    expect(inputs.batch).toEqual({ litres: 30 });
    expect(inputs.scaleKg).toBeCloseTo(0.01, 12);
    expect([inputs.blend, inputs.currency, inputs.units]).toEqual(["each", "EUR", "metric"]);
    expect(inputs.soilTemperatureC).toEqual([[0, 15]]);
    expect(inputs.amendments.map((a) => a.id)).toEqual(["feather-meal"]);
    expect(inputs.simple).toEqual({ most: 2, leastKg: 1 });
    expect(inputs.harvest).toEqual({ firstDay: 75, touchesSoil: false });
    expect(inputs.applications.map((a) => a.name)).toEqual(["early", "late"]);
  });

  slow("takes a shipped recipe by name", async () => {
    const { code, stdout } = await run([
      ...["solve", "--json", "--amendments", "recipes/amendments/all.yaml", "--recipe", "pepper"],
      ...["--plants", "240", "--area", "1500 sq ft", "--batch", "60 lb"],
    ]);
    expect(code).toBe(0);
    expect(unfolded(JSON.parse(stdout) as Solution).status).toBe("optimal");
  });
});

describe("exit codes", () => {
  it("0: done", async () => {
    expect((await run(["solve", PLAN])).code).toBe(0);
    expect((await run(["--version"])).stdout).toBe(
      `${(JSON.parse(readFileSync(join(ROOT, "package.json"), "utf8")) as { version: string }).version}\n`,
    );
  });

  it("1: unexpected, in a sentence, with the stack only where it is asked for", async () => {
    const files = {
      read: () => {
        throw new Error("the disk is on fire");
      },
    };
    const { code, stdout, stderr } = await run(["solve", PLAN], { files });
    expect(code).toBe(1);
    expect(stdout).toBe("");
    expect(stderr).toContain("the disk is on fire");
    expect(stderr).not.toMatch(/^\s+at /m);
    const debug = await run(["solve", PLAN], { files, env: { BARROWMIX_DEBUG: "1" } });
    expect(debug.stderr).toMatch(/^\s+at /m);
  });

  it("2: bad input, with nothing on stdout", async () => {
    for (const args of [
      ["solve", "no-such-plan.yaml"],
      ["solve", join(CASES, "bad-plan/plan.yaml")],
      ["solve", PLAN, "--format", "xlsx"],
      ["solve", PLAN, "--units", "imperial"],
      ["solve", PLAN, "--set", "scale"],
      ["sweep", PLAN, "another.yaml"],
      ["solve", "--target", "a.yaml", "--recipe", "kale"],
      ["solve", PLAN, "--out", "no-such-folder/mix.csv"],
      ["list", "recipes"],
      ["mix"],
      ["--jsn"],
    ]) {
      const { code, stdout, stderr } = await run(args);
      expect([args, code, stdout]).toEqual([args, 2, ""]);
      expect(stderr.trim(), args.join(" ")).not.toBe("");
      expect(stderr, args.join(" ")).not.toMatch(/^\s+at /m);
    }
  });

  it("2: an argument left out, with what it may be", async () => {
    expect((await run(["list"])).stderr).toContain("list needs <what>: amendments, crops,");
  });

  it("2: a command that is gone, with what replaces it", async () => {
    const { code, stderr } = await run(["prices", "import", "list.csv", "--into", "amendments.yaml"]);
    expect([code, stderr.includes("`prices: [list.csv]`"), stderr.includes("--prices list.csv")]).toEqual([
      2,
      true,
      true,
    ]);
  });

  it("3: no feasible mix, and no weights printed as a plan", async () => {
    const plan = join(CASES, "infeasible/plan.yaml");
    expect((await run(["solve", plan])).code).toBe(3);
    const { code, stdout } = await run(["solve", plan, "--json"]);
    const solution = unfolded(JSON.parse(stdout) as Solution);
    expect(code).toBe(3);
    expect(solution.status).toBe("infeasible");
    expect(solution.amendments).toEqual([]);
    expect(solution.rounds).toEqual([]);
    expect(solution.conflicts.length).toBeGreaterThan(0);
  });

  it("4: an answer that cannot be verified is not printed", async () => {
    const { UnverifiedError } = await import("../src/solver/verify.ts");
    vi.doMock("../src/flow/answer.ts", () => ({
      solvePlans: () => Promise.reject(new UnverifiedError("The answer could not be verified.")),
    }));
    const { code, stdout, stderr } = await run(["solve", PLAN]);
    expect([code, stdout, stderr]).toEqual([4, "", "barrowmix: The answer could not be verified.\n"]);
  });
});

describe("streams", () => {
  it("are plain text unless a person looks on", async () => {
    const onScreen = { tty: true, columns: 100 };
    expect((await run(["solve", PLAN])).stdout).not.toContain(ESCAPE);
    expect((await run(["solve", PLAN], onScreen)).stdout).toContain(ESCAPE);
    expect((await run(["solve", PLAN, "--no-color"], onScreen)).stdout).not.toContain(ESCAPE);
    expect((await run(["solve", PLAN], { ...onScreen, env: { NO_COLOR: "1" } })).stdout).not.toContain(
      ESCAPE,
    );
    // no-color.org: an empty NO_COLOR counts as absent.
    expect((await run(["solve", PLAN], { ...onScreen, env: { NO_COLOR: "" } })).stdout).toContain(ESCAPE);
    expect((await run(["solve", PLAN], { ...onScreen, env: { TERM: "dumb" } })).stdout).not.toContain(ESCAPE);
    for (const format of ["json", "csv", "md"])
      expect((await run(["solve", PLAN, "--format", format], onScreen)).stdout).not.toContain(ESCAPE);
  });

  it("follow a narrow screen down to 60 columns, and no wide one beyond 80", async () => {
    const widest = (text: string) => Math.max(...text.split("\n").map((line) => line.length));
    const at = async (columns: number) =>
      widest((await run(["solve", PLAN, "--no-color"], { tty: true, columns })).stdout);
    expect(await at(60)).toBeLessThanOrEqual(60);
    expect(await at(40)).toBe(await at(60));
    expect(await at(200)).toBe(await at(80));
    expect(await at(80)).toBeLessThanOrEqual(80);
  });

  it("carry data on stdout and remarks on stderr, which --quiet keeps still", async () => {
    const loud = await run(["solve", PLAN, "--format", "csv"]);
    const quiet = await run(["solve", PLAN, "--format", "csv", "--quiet"]);
    expect(loud.stderr).not.toBe("");
    expect(quiet.stderr).toBe("");
    expect(quiet.stdout).toBe(loud.stdout);
  });

  it("end quietly when the reader has gone", async () => {
    const world = testWorld();
    const gone = Object.assign(new Error("write EPIPE"), { code: "EPIPE" });
    const stdout = {
      ...world.stdout,
      write: () => {
        throw gone;
      },
    };
    expect(await main(["solve", PLAN], { ...world, stdout })).toBe(0);
    expect(world.written.stderr).toBe("");
  });

  it("take a plan from standard input", async () => {
    const stdin = readFileSync(PLAN, "utf8");
    const piped = await run(["solve", "-", "--json"], { stdin });
    // It has no name by which the page could say where its rates are from.
    const named = piped.stdout.replaceAll('"source": "your plan"', '"source": "plan.yaml"');
    expect(unfolded(JSON.parse(named) as Solution)).toEqual(await solveJson([PLAN]));
    const broken = await run(["solve", "-"], { stdin: "plan: [" });
    expect(broken.code).toBe(2);
    expect(broken.stderr).toMatch(/^-:1:\d+: /);
    expect((await run(["solve", "-"], { stdin: "" })).code).toBe(2);
  });
});

describe("--out", () => {
  it("writes what stdout would have had, and says so beside it", async () => {
    const plain = await run(["solve", PLAN, "--format", "md"]);
    const { code, stdout, stderr } = await run(["solve", PLAN, "--format", "md", "--out", "mix.md"], {
      cwd: folder,
    });
    expect([code, stdout, stderr]).toEqual([0, "", "Wrote mix.md.\n"]);
    expect(readFileSync(join(folder, "mix.md"), "utf8")).toBe(plain.stdout);
    expect(readdirSync(folder)).toEqual(["mix.md"]);
    const quiet = await run(["solve", PLAN, "--out", "mix.md", "--quiet"], { cwd: folder });
    expect([quiet.stdout, quiet.stderr]).toEqual(["", ""]);
  });

  it("- is stdout", async () => {
    const plain = await run(["solve", PLAN, "--json"]);
    expect(await run(["solve", PLAN, "--json", "--out", "-"])).toEqual(plain);
  });

  it("leaves an old file as it was, and no other behind, when the run fails", async () => {
    writeFileSync(join(folder, "old.txt"), "from last year\n");
    const bad = await run(["solve", join(CASES, "bad-plan/plan.yaml"), "--out", "old.txt"], { cwd: folder });
    expect(bad.code).toBe(2);
    vi.doMock("../src/flow/answer.ts", () => ({ solvePlan: () => Promise.reject(new Error("no luck")) }));
    const unlucky = await run(["solve", PLAN, "--out", "old.txt"], { cwd: folder });
    expect(unlucky.code).toBe(1);
    expect(readFileSync(join(folder, "old.txt"), "utf8")).toBe("from last year\n");
    expect(readdirSync(folder)).toEqual(["old.txt"]);
  });

  it("keeps the rights of a file that it replaces, and follows a link to it", async () => {
    const real = join(folder, "real.txt");
    writeFileSync(real, "old\n");
    chmodSync(real, 0o640);
    symlinkSync(real, join(folder, "link.txt"));
    expect((await run(["list", "units", "--out", "link.txt"], { cwd: folder })).code).toBe(0);
    expect(readFileSync(real, "utf8")).toContain("gal");
    expect(statSync(real).mode & 0o777).toBe(0o640);
    expect(readdirSync(folder).sort()).toEqual(["link.txt", "real.txt"]);
  });

  it("refuses at once what cannot be written, before any work", async () => {
    mkdirSync(join(folder, "a-folder"));
    writeFileSync(join(folder, "a-file"), "");
    const read = vi.fn(() => null);
    for (const [path, why] of [
      ["nowhere/mix.txt", "there is no folder"],
      ["a-folder", "it is a folder"],
      ["a-file/mix.txt", "is not a folder"],
    ] as const) {
      const { code, stderr } = await run(["solve", PLAN, "--out", path], { cwd: folder, files: { read } });
      expect([path, code]).toEqual([path, 2]);
      expect(stderr).toContain(why);
    }
    expect(read).not.toHaveBeenCalled();
  });

  it("does not overwrite a file that was read", async () => {
    cpSync(PLAN, join(folder, "plan.yaml"));
    const { code, stderr } = await run(["solve", "plan.yaml", "--format", "csv", "--out", "plan.yaml"], {
      cwd: folder,
    });
    expect(code).toBe(2);
    expect(stderr).toContain("would overwrite a file that is read");
    expect(readFileSync(join(folder, "plan.yaml"), "utf8")).toBe(readFileSync(PLAN, "utf8"));
  });

  it.each([
    ["a link to it", "link.yaml", ["solve", "plan.yaml"]],
    ["the plan that is checked", "plan.yaml", ["check", "plan.yaml"]],
    ["a file that the plan names", "amendments.yaml", ["check", "plan.yaml"]],
    ["the cases", "cases.yaml", ["whatif", "plan.yaml", "--cases", "cases.yaml"]],
    ["a price list", "list.csv", ["whatif", "plan.yaml", "--compare", "list.csv"]],
    ["further amendments", "more.yaml", ["whatif", "plan.yaml", "--case", "more: --with more.yaml"]],
    ["prices beside the plan's", "list.csv", ["solve", "plan.yaml", "--prices", "list.csv"]],
    ["a price list that is checked", "list.csv", ["check", "list.csv"]],
  ])("nor %s, whatever the command", async (_, out, args) => {
    cpSync(join(ROOT, "examples/brassica-terraces"), folder, { recursive: true });
    symlinkSync(join(folder, "plan.yaml"), join(folder, "link.yaml"));
    writeFileSync(join(folder, "cases.yaml"), "cases: {dear: {price: {feather-meal: +10%}}}\n");
    writeFileSync(join(folder, "list.csv"), "id,size,price\nfeather-meal,50 lb,61\n");
    writeFileSync(join(folder, "more.yaml"), "amendments: {feather-meal: {stock: 5 lb}}\n");
    const texts = () =>
      readdirSync(folder)
        .filter((name) => statSync(join(folder, name)).isFile())
        .map((name) => [name, readFileSync(join(folder, name), "utf8")]);
    const before = texts();
    const { code, stdout, stderr } = await run([...args, "--format", "csv", "--out", out], { cwd: folder });
    expect([code, stdout]).toEqual([2, ""]);
    expect(stderr).toContain("would overwrite a file that is read");
    expect(texts()).toEqual(before);
    // Elsewhere the same call is a good one.
    expect((await run([...args, "--out", "new.txt"], { cwd: folder })).code).toBe(0);
  });

  it("writes into a device and does not replace it", async () => {
    expect((await run(["list", "units", "--out", "/dev/null", "--quiet"])).code).toBe(0);
    expect(statSync("/dev/null").isCharacterDevice()).toBe(true);
  });
});

describe("lists", () => {
  it.each(["amendments", "crops", "releases", "units"])(
    "%s fit 80 columns, and say the same in JSON and CSV",
    async (what) => {
      const table = await run(["list", what]);
      expect(table.code).toBe(0);
      for (const line of table.stdout.split("\n")) expect(line.length, line).toBeLessThanOrEqual(80);
      const { items } = JSON.parse((await run(["list", what, "--json"])).stdout) as { items: unknown[] };
      const csv = (await run(["list", what, "--format", "csv"])).stdout;
      expect(items.length).toBeGreaterThan(4);
      expect(csv.split("\r\n").filter((line) => line !== "").length).toBeGreaterThanOrEqual(items.length + 1);
    },
  );

  it("are searched without regard to capitals", async () => {
    const { items } = JSON.parse((await run(["list", "units", "--search", "GALLON", "--json"])).stdout) as {
      items: { unit: string }[];
    };
    expect(items.map((item) => item.unit)).toEqual(["gal"]);
  });
});

describe("the program as it is installed", () => {
  const bin = join(ROOT, "bin/barrowmix.cjs");
  const bundle = join(ROOT, "dist/barrowmix.cjs");
  beforeAll(() => {
    if (!existsSync(bundle)) execFileSync(process.execPath, [join(ROOT, "scripts/build.mjs")]);
  }, 120_000);

  const lines = [
    [["solve", PLAN]],
    [["help", "solve"]],
    [["solve", PLAN, "--set", "target.need.N=900 lb"]],
    [["shop", PLAN, "--format", "list"]],
    [["assay", PLAN]],
  ];
  it.each(lines.slice(0, seeds(2, 5)))("prints what the sources print: %j", async (args) => {
    const built = spawnSync(process.execPath, [bin, ...args], { encoding: "utf8", cwd: ROOT });
    const { code, stdout, stderr } = await run(args, { cwd: ROOT });
    expect([built.status, built.stdout, built.stderr]).toEqual([code, stdout, stderr]);
  });

  it("says what to do where it has not been built", () => {
    cpSync(join(ROOT, "bin"), join(folder, "bin"), { recursive: true });
    const { status, stderr } = spawnSync(process.execPath, [join(folder, "bin/barrowmix.cjs")], {
      encoding: "utf8",
    });
    expect(status).toBe(1);
    expect(stderr).toContain("npm run build");
  });

  slow("ends quietly, with 0, in a pipe that nobody reads any more", () => {
    const { stdout, stderr } = spawnSync(
      "bash",
      ["-c", `(sleep 0.3; "${process.execPath}" "${bin}" list units) | true; echo "\${PIPESTATUS[0]}"`],
      { encoding: "utf8" },
    );
    expect([stdout, stderr]).toEqual(["0\n", ""]);
  });

  it("reads a plan from a pipe", () => {
    const { status, stdout } = spawnSync(process.execPath, [bin, "check", "-"], {
      encoding: "utf8",
      input: readFileSync(PLAN, "utf8"),
    });
    expect(status).toBe(0);
    expect(stdout).toContain("nothing wrong");
  });
});
