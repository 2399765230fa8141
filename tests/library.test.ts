/** The library as a program uses it: from the package's own name, with its arguments looked over at the door. */
import { execFileSync } from "node:child_process";
import { readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import type { Plan, Result } from "../src/index.ts";
import { seeds, slow } from "./helpers/seeds.ts";
import { shippedLibrary, wildCalls } from "./helpers/wild.ts";
import { ROOT } from "./helpers/world.ts";

const library = await shippedLibrary(ROOT);
const { applyPriceList, assayMix, changePlan, changePrices, checkPlan, comparePlans, InputError } = library;
const { loadAmendmentsFile, loadCasesFile, loadMixFile, loadPlanFile, loadPriceListFile } = library;
const { solvePlan, solvePlans, sweepPlan } = library;

const DEMO = join(ROOT, "examples/brassica-terraces");
const SCRIPTS = join(ROOT, "examples/scripts");

function value<T>(result: Result<T>): T {
  if (!result.ok) throw new Error(result.problems.map(({ message }) => message).join("; "));
  return result.value;
}

let plan: Plan;
beforeAll(() => {
  ({ plan } = value(loadPlanFile(join(DEMO, "plan.yaml"))));
});

describe("files from the disk", () => {
  it("give plans, mixes, cases, amendments and price lists, the shipped ones without a path", async () => {
    expect(plan.name).toBe("Kestrel Bank terraces");
    const { mix } = value(loadMixFile(join(DEMO, "mix.yaml")));
    expect(value(await assayMix(mix, plan)).schema).toBe("barrowmix.assay/1");
    expect(value(loadCasesFile(join(SCRIPTS, "cases.yaml"))).length).toBeGreaterThan(0);
    expect(value(loadAmendmentsFile()).amendments.length).toBeGreaterThan(30);
    const list = value(loadPriceListFile(join(SCRIPTS, "prices-millside.csv")));
    expect(value(applyPriceList(plan, list, false)).plan.name).toBe(plan.name);
  });

  it("say what is wrong in problems, and throw nothing", () => {
    expect(loadPlanFile("no-such.yaml")).toEqual({
      ok: false,
      problems: [expect.objectContaining({ code: "file-unreadable" })],
    });
    const bad = loadPlanFile(join(ROOT, "tests/cases/bad-plan/plan.yaml"));
    expect(bad.ok).toBe(false);
    expect(loadPriceListFile("no-such.csv").ok).toBe(false);
  });
});

describe("the door", () => {
  it("lets every plan pass that loading gives", () => {
    const plans = ["examples", "tests"].flatMap((folder) =>
      readdirSync(join(ROOT, folder), { recursive: true, encoding: "utf8" })
        .filter((name) => name.endsWith("plan.yaml"))
        .map((name) => join(ROOT, folder, name)),
    );
    let passed = 0;
    for (const file of plans) {
      const loaded = loadPlanFile(file);
      if (!loaded.ok) continue;
      checkPlan(loaded.value.plan);
      passed += 1;
    }
    expect(passed).toBeGreaterThan(5);
  });

  it("refuses plans that are none", async () => {
    const [first, ...rest] = plan.amendments;
    const wrong: readonly (readonly [object, RegExp])[] = [
      [{}, /plan/],
      [{ ...plan, seasonDays: Number.NaN }, /seasonDays/],
      [{ ...plan, scaleKg: 0 }, /scaleKg/],
      [{ ...plan, applications: [] }, /applications is empty/],
      [{ ...plan, amendments: [first, first, ...rest] }, /is in this list twice/],
      [{ ...plan, amendments: [{ ...first, packs: [{ sizeKg: 1, price: -1 }] }, ...rest] }, /price/],
      [{ ...plan, amendments: [{ ...first, analysis: { N: 13 } }, ...rest] }, /analysis/],
      [{ ...plan, amendments: [{ ...first, analysis: { X: 0.1 } }, ...rest] }, /analysis/],
      [{ ...plan, limits: [{ id: "moon-dust", notIn: [] }] }, /no amendment is called `moon-dust`/],
      [{ ...plan, limits: [{ id: first!.id, notIn: [9] }] }, /there is no application 9/],
    ];
    for (const [bad, message] of wrong) {
      const refused = await solvePlan(bad as Plan).catch((error: unknown) => error);
      expect(refused).toBeInstanceOf(InputError);
      expect((refused as Error).message).toMatch(message);
    }
  });

  it("refuses sweeps, purchases, rains, splits and cases that cannot be meant", async () => {
    const sweep = {
      handle: { kind: "price", id: "feather-meal" },
      from: 1,
      to: 2,
      steps: 5,
      understood: "",
    } as const;
    const calls: readonly (readonly [() => unknown, RegExp])[] = [
      [() => sweepPlan(plan, { ...sweep, from: 3 }), /a sweep goes upwards, not from 3 to 2/],
      [() => sweepPlan(plan, { ...sweep, to: Number.NaN }), /request.to: `NaN` is not a usable number/],
      [() => sweepPlan(plan, { ...sweep, steps: 0 }), /steps: a whole number/],
      [
        () => sweepPlan(plan, { ...sweep, handle: { kind: "price", id: "fether-meal" } }),
        /did you mean `feather-meal`/,
      ],
      [() => solvePlans([plan], { budget: Number.NaN }), /budget/],
      [() => solvePlans([plan], { seconds: 0 }), /seconds/],
      [() => solvePlans([plan], { mostLeft: { share: 2 } }), /mostLeft/],
      [
        () =>
          comparePlans(
            [plan],
            ["a", "a"].map((name) => ({ name, plans: [plan] as const, notes: [] })),
          ),
        /the case `a` is there twice/,
      ],
      [
        async () =>
          changePlan(
            plan,
            { price: { "feather-meal": { kind: "factor", factor: -1 } }, exclude: [] },
            "less",
          ),
        /the price of `feather-meal` is not at least 0/,
      ],
    ];
    for (const [call, message] of calls) {
      const refused = await Promise.resolve()
        .then(call)
        .catch((error: unknown) => error);
      expect(refused).toBeInstanceOf(InputError);
      expect((refused as Error).message).toMatch(message);
    }
  });

  it.each(["weight", "purchase"] as const)(
    "uses nothing that is neither sold nor in the shed, by %s",
    async (by) => {
      const { plan } = value(loadPlanFile(join(ROOT, "tests/cases/two-meals/plan.yaml")));
      const pellets = plan.amendments.find(({ bulkPricePerKg }) => bulkPricePerKg !== undefined)!;
      const rest = plan.amendments.filter((one) => one !== pellets);
      const { bulkPricePerKg: _, ...unsold } = { ...pellets, packs: [], stockKg: 0 };
      const limits = plan.limits.filter(({ id }) => id !== pellets.id);
      const without = await solvePlan({ ...plan, amendments: rest, limits }, { by });
      const beside = await solvePlan({ ...plan, amendments: [...rest, unsold], limits }, { by });
      expect(without.status).toBe("optimal");
      expect(beside.cost).toEqual(without.cost);
      expect(beside.mixes.flatMap(({ materials }) => materials.map(({ id }) => id))).not.toContain(
        pellets.id,
      );
    },
  );

  slow("changes prices by their text, and says which it cannot read", async () => {
    const dear = value(changePrices(plan, { "feather-meal": "+20%", "soybean-meal": "1.20/lb" }));
    const [before, after] = [await solvePlan(plan), await solvePlan(dear.plan)];
    expect(after.cost.total!).toBeGreaterThan(before.cost.total!);
    const bad = changePrices(plan, { "feather-meal": "20%", "moon-dust": "+5%" });
    expect(bad.ok ? [] : bad.problems.map(({ code }) => code)).toEqual(["number-unreadable"]);
  });
});

describe("the package by its name", () => {
  const example = /^## As a library[\s\S]*?^```ts\n([\s\S]*?)^```$/m.exec(
    readFileSync(join(ROOT, "README.md"), "utf8"),
  )?.[1];
  const files = ["readme-example.ts", "readme-example.mjs", "readme-example.json"].map((name) =>
    join(ROOT, "dist", name),
  );
  afterAll(() => {
    for (const file of files) rmSync(file, { force: true });
  });

  slow(
    "compiles the example of the README against the types that ship, and runs it",
    () => {
      const [source, script, config] = files as [string, string, string];
      expect(example).toContain('from "barrowmix"');
      writeFileSync(source, example!);
      writeFileSync(script, example!);
      writeFileSync(
        config,
        JSON.stringify({
          extends: "../tsconfig.json",
          compilerOptions: { rootDir: "..", typeRoots: ["../node_modules/@types"] },
          include: [],
          files: ["readme-example.ts"],
        }),
      );
      execFileSync(process.execPath, [join(ROOT, "node_modules/typescript/bin/tsc"), "-p", config]);
      const printed = execFileSync(process.execPath, [script], { cwd: ROOT, encoding: "utf8" });
      expect(printed).toMatch(/^# Kestrel Bank terraces/);
      expect(printed.trimEnd().split("\n").at(-1)).toMatch(/^\d+(\.\d+)?$/);
    },
    60_000,
  );

  // Node can require ES modules from 20.19 and 22.12 on; before, it says so itself.
  it("can be required where Node requires ES modules", () => {
    const [major, minor] = process.versions.node.split(".").map(Number) as [number, number];
    const can = major > 22 || (major === 22 && minor >= 12) || (major === 20 && minor >= 19);
    const code =
      'try { console.log(typeof require("barrowmix").solvePlan); } catch (e) { console.log(e.code); }';
    const printed = execFileSync(process.execPath, ["--no-warnings", "-e", code], {
      cwd: ROOT,
      encoding: "utf8",
    });
    expect(printed.trim()).toBe(can ? "function" : "ERR_REQUIRE_ESM");
  });
});

describe("an argument that cannot be meant", () => {
  slow(
    "is an InputError whatever it is and whichever function is called",
    async () => {
      const { calls, refused, crashes } = await wildCalls(ROOT, seeds(10, 60));
      expect(crashes.map(({ name, call, error }) => `${name} ${call}: ${String(error)}`)).toEqual([]);
      expect(calls).toBeGreaterThan(seeds(400, 2400));
      expect(refused).toBeGreaterThan(calls / 2);
    },
    120_000,
  );

  const wild = (value: unknown) => value as never;

  it.each<[string, () => Promise<unknown>]>([
    ["options that are misspelt", () => solvePlan(plan, wild({ bugdet: 5 }))],
    ["options that are a number", () => solvePlan(plan, wild(7))],
    ["a budget that is text", () => solvePlan(plan, wild({ budget: "100" }))],
    ["most left that is null", () => solvePlan(plan, wild({ mostLeft: null }))],
    ["no plan", () => solvePlan(wild(undefined))],
    ["no request", () => sweepPlan(plan, wild(null))],
    ["no handle", () => sweepPlan(plan, wild({ from: 1, to: 2, steps: 1 }))],
    ["cases that are no list", () => comparePlans([plan], wild(5))],
    ["a case that is null", () => comparePlans([plan], wild([null]))],
    ["plans that are no list", () => comparePlans(wild(plan), [])],
    ["prices that are text", async () => changePrices(plan, wild("+10%"))],
    ["no mix", () => assayMix(wild(null))],
    ["a mix of nothing", () => assayMix(wild({ portions: [] }))],
  ])("%s is an InputError", async (_, call) => {
    await expect(call()).rejects.toBeInstanceOf(InputError);
  });

  it.each([-50, "5", null])("a portion of %j kg, and as many plants, is an InputError", async (kg) => {
    const { mix } = value(loadMixFile(join(DEMO, "mix.yaml")));
    const portions = mix.portions.map((portion, i) => (i === 0 ? { ...portion, kg: wild(kg) } : portion));
    await expect(assayMix({ ...mix, portions })).rejects.toBeInstanceOf(InputError);
    const spread = { ...mix.spread, times: 1, plants: wild(kg) };
    await expect(assayMix({ ...mix, spread })).rejects.toBeInstanceOf(InputError);
  });
});
