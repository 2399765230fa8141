import { resolve } from "node:path";
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { main } from "../../src/cli.ts";
import { caseOf, parseCase, shellWords } from "../../src/commands/case-flags.ts";
import { readPriceList } from "../../src/files/price-list.ts";
import { changePlan } from "../../src/flow/changes.ts";
import { applyPriceList } from "../../src/flow/price-lists.ts";
import { comparePlans } from "../../src/flow/whatif.ts";
import type { Plan } from "../../src/model.ts";
import { formatProblems } from "../../src/problem.ts";
import { cheapestPricePerKg } from "../../src/program/build.ts";
import { renderCsv } from "../../src/render/csv.ts";
import { renderTerminal } from "../../src/render/terminal.ts";
import { whatIfReport } from "../../src/report/whatif-report.ts";
import type { Comparison } from "../../src/results/comparison.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { slow } from "../helpers/seeds.ts";
import { ROOT, testWorld } from "../helpers/world.ts";

const DEMO = resolve(ROOT, "examples/brassica-terraces/plan.yaml");

/** Runs the program with files of the test's own beside the real ones. */
async function run(args: readonly string[], files: Readonly<Record<string, string>> = {}) {
  const real = testWorld();
  const world = testWorld({
    cwd: "/test",
    files: {
      read: (path) => (Object.hasOwn(files, path) ? files[path]! : real.files.read(path)),
    },
  });
  // By weight, but where a test is about purchases.
  const compares = args[0] === "whatif" || args[0] === "solve";
  const by = !compares || args.includes("--by") ? [] : ["--by", "weight"];
  const code = await main([...args, ...by], world);
  return { code, ...world.written };
}

async function comparison(args: readonly string[], files: Readonly<Record<string, string>> = {}) {
  const { code, stdout, stderr } = await run(["whatif", DEMO, ...args, "--json"], files);
  expect(stderr).toBe("");
  expect(code).toBe(0);
  return JSON.parse(stdout) as Comparison;
}

/** The demo's plan, as the program reads it. */
async function demo(): Promise<Plan> {
  const { stdout } = await run(["solve", DEMO, "--json"]);
  return (JSON.parse(stdout) as { inputs: { plans: [Plan] } }).inputs.plans[0];
}

/** Cost of the plan as `solve` gives it, with flags of its own. */
async function solvedCost(args: readonly string[], files: Readonly<Record<string, string>> = {}) {
  const { stdout } = await run(["solve", DEMO, ...args, "--json"], files);
  const solution = JSON.parse(stdout) as { status: string; cost: { total: number } };
  return solution.status === "optimal" ? solution.cost.total : null;
}

describe("whatif", () => {
  it("prints no table without rows where nothing needs to be mixed", async () => {
    const plan = loadTree({
      plan: "Fed already",
      amendments: {
        meal: {
          name: "Meal",
          analysis: { N: 10 },
          packs: [{ size: "50 lb", price: 40 }],
          release: "at-once",
        },
      },
      target: { target: "Crop", season: "60 days", need: { per: "bed", N: "0 lb" } },
      bed: { plants: 100 },
      batch: { size: "30 lb" },
      scale: "0.25 lb",
    });
    const { comparison, base } = await comparePlans([plan], []);
    const { sections } = whatIfReport(comparison, base);
    expect(sections.map(({ title }) => title)).not.toContain("The mixes");
    for (const block of sections.flatMap(({ blocks }) => blocks))
      if (block.kind === "table") expect(block.table.rows).not.toEqual([]);
  });

  it("says how often each case meets each need, and takes --sure for all cases or for one", async () => {
    const { base, cases } = await comparison([
      ...["--sure", "90%"],
      ...["--case", "no meal: --exclude feather-meal"],
      ...["--case", "surer: --sure 'N=95%, K2O=90%'"],
    ]);
    expect(base.total).toBeCloseTo((await solvedCost(["--sure", "90%"]))!, 9);
    const [without, surer] = cases;
    expect(without!.total).toBeCloseTo(
      (await solvedCost(["--sure", "90%", "--exclude", "feather-meal"]))!,
      9,
    );
    expect(surer!.total).toBeCloseTo((await solvedCost(["--sure", "N=95%,K2O=90%"]))!, 9);
    // What a missing bag costs at 90 % is not what it costs on the average.
    const average = (await solvedCost(["--exclude", "feather-meal"]))! - (await solvedCost([]))!;
    expect(without!.difference).toBeCloseTo(without!.total! - base.total!, 9);
    expect(Math.abs(without!.difference! - average)).toBeGreaterThan(1);
    expect(surer!.sure!.asked).toEqual([
      { nutrient: "N", p: 0.95 },
      { nutrient: "K2O", p: 0.9 },
    ]);
    for (const [one, nutrient, p] of [
      [base, "N", 0.9],
      [without, "N", 0.9],
      [surer, "N", 0.95],
      [surer, "K2O", 0.9],
    ] as const) {
      const need = one!.sure!.needs.find((n) => n.nutrient === nutrient && n.day === 100)!;
      expect(need.p).toBeGreaterThan(p - 1e-6);
      expect(Math.abs(need.pChecked! - p)).toBeLessThan(0.01);
    }
    expect(base.sure!.needs.find(({ nutrient }) => nutrient === "Mg")!.p).toBeCloseTo(0.5, 6);
  });

  slow("says how often needs are met in its table, as CSV and of purchases", async () => {
    const flags = ["--case", "surer: --sure 90%"];
    const { stdout } = await run(["whatif", DEMO, ...flags]);
    expect(stdout).toMatch(/In about how many seasons each need is met\n.*\n.*\n +N +5 of 10 +9 of 10\n/);
    const csv = (await run(["whatif", DEMO, ...flags, "--format", "csv"])).stdout.split(/\r?\n/);
    const column = csv[0]!.split(",").indexOf("N_met_percent");
    expect(Number(csv[1]!.split(",")[column])).toBeCloseTo(50, 3);
    expect(Number(csv[2]!.split(",")[column])).toBeCloseTo(90, 0);
    const bought = await comparison([...flags, "--by", "purchase"]);
    expect(
      Math.min(...bought.cases[0]!.sure!.needs.filter((n) => n.nutrient === "N").map(({ p }) => p)),
    ).toBeGreaterThan(0.9 - 1e-5);
  });

  it("compares each case with the plan, as solve would solve it", async () => {
    const { base, cases, names } = await comparison([
      "--case",
      "dear: --price feather-meal=+20%",
      "--case",
      "no litter: --exclude turkey-litter-pellets",
      "--case",
      "own recipes: --set blend=each",
    ]);
    expect(base.total).toBeCloseTo((await solvedCost([]))!, 9);
    const [dear, litter, each] = cases;
    expect(dear!.total).toBeCloseTo(
      (await solvedCost(["--set", "amendments.feather-meal.packs=[{size: 50 lb, price: 52.2}]"]))!,
      6,
    );
    expect(litter!.total).toBeCloseTo(
      (await solvedCost(["--exclude", "turkey-litter-pellets", "--set", "limits.turkey-litter-pellets={}"]))!,
      6,
    );
    expect(each!.total).toBeCloseTo((await solvedCost(["--blend", "each"]))!, 9);
    for (const one of cases) {
      expect(one.difference).toBeCloseTo(one.total! - base.total!, 9);
      expect(one.reason).toBeNull();
      const ids = one.amendments.map(({ id }) => id);
      const before = base.amendments.map(({ id }) => id);
      expect(one.entered).toEqual(ids.filter((id) => !before.includes(id)));
      expect(one.left).toEqual(before.filter((id) => !ids.includes(id)));
      for (const id of ids) expect(names[id]).toBeTruthy();
    }
    expect(dear!.entered).toEqual(["soybean-meal"]);
    expect(litter!.notes).toEqual([
      "turkey-litter-pellets is left out, and with it what the plan asks at least of it.",
    ]);
  });

  it("makes one case of the flags that stand outside", async () => {
    const { cases } = await comparison(["--price", "feather-meal=+20%", "--exclude", "kelp-meal,fish-meal"]);
    expect(cases.map(({ name }) => name)).toEqual(["feather-meal +20%, exclude kelp-meal,fish-meal"]);
    expect(cases[0]!.amendments.map(({ id }) => id)).not.toContain("kelp-meal");
  });

  it("keeps a case without a mix in its place, with the reason", async () => {
    const { cases } = await comparison([
      "--case",
      "no potash: --exclude potassium-sulfate,langbeinite",
      "--case",
      "fine: --price all=-10%",
    ]);
    expect(cases[0]).toMatchObject({ status: "infeasible", total: null, difference: null, amendments: [] });
    expect(cases[0]!.reason).toContain("Mg");
    expect(cases[1]!.status).toBe("optimal");
  });

  it("reads cases, further amendments and price lists from files", async () => {
    const files = {
      "/test/cases.yaml":
        "cases:\n  up: {price: {feather-meal: +20%}}\n  new: {with: [more.yaml]}\n  off: {exclude: [fish-meal]}\n",
      "/test/more.yaml":
        "amendments:\n  blood-meal:\n    name: Blood meal\n    analysis: {N: 12}\n    bulk: {price: 0.40, per: lb}\n    release: fast\n",
      "/test/store.csv": "id,size,price\nfeather-meal,50 lb,52.20\n",
    };
    const { base, cases } = await comparison(["--cases", "cases.yaml", "--compare", "store.csv"], files);
    expect(cases.map(({ name }) => name)).toEqual(["up", "new", "off", "store"]);
    expect(cases[1]!.entered).toContain("blood-meal");
    expect(cases[1]!.total!).toBeLessThan(base.total!);
    expect(cases[3]!.total).toBeCloseTo(cases[0]!.total!, 9);
    expect(cases[3]!.notes[0]).toContain("since the list does not have them");
  });

  it("takes the cheapest of several lists as a case of its own", async () => {
    const files = {
      "/test/a.csv": "id,size,price\nfeather-meal,50 lb,30\nlangbeinite,50 lb,60\n",
      "/test/b.csv": "id,size,price\r\nfeather-meal,50 lb,60\r\nlangbeinite,50 lb,20\r\n",
    };
    const { cases } = await comparison(["--compare", "a.csv", "b.csv"], files);
    expect(cases.map(({ name }) => name)).toEqual(["a", "b", "cheapest of all"]);
    expect(cases[2]!.total!).toBeLessThan(Math.min(cases[0]!.total!, cases[1]!.total!));
    // A list that lacks the litter leaves it at the plan's price, which a dearer offer elsewhere does not change.
    const dear = { ...files, "/test/b.csv": `${files["/test/b.csv"]}turkey-litter-pellets,50 lb,90\r\n` };
    const again = (await comparison(["--compare", "a.csv", "b.csv"], dear)).cases[2]!;
    expect(again.total).toBeCloseTo(cases[2]!.total!, 9);
    expect(again.notes.join(" ")).toContain("turkey-litter-pellets");
  });

  it("prints one case a line for scripts, and a row each as CSV", async () => {
    const flags = ["whatif", DEMO, "--case", "a: --price all=+10%", "--case", "b: --price all=-10%"];
    const lines = (await run([...flags, "--ndjson"])).stdout.trimEnd().split("\n");
    expect(lines.map((line) => (JSON.parse(line) as { name: string }).name)).toEqual(["a", "b"]);
    const csv = (await run([...flags, "--format", "csv"])).stdout.trimEnd().split("\r\n");
    expect(csv).toHaveLength(4);
    expect(csv[0]).toMatch(/^case,status,cost,difference,entered,left,binding,reason,/);
    expect(csv[1]).toMatch(/^as planned,optimal,84\.65/);
  });

  it("scales with all prices", async () => {
    const { base, cases } = await comparison(["--price", "all=+10%"]);
    expect(cases[0]!.total).toBeCloseTo(1.1 * base.total!, 6);
    expect(cases[0]!.amendments.map(({ id }) => id)).toEqual(base.amendments.map(({ id }) => id));
  });

  it("fits the terminal", async () => {
    const { stdout } = await run([
      "whatif",
      DEMO,
      "--case",
      "a very long name of a case that says it all: --price feather-meal=+20%",
      "--case",
      "b: --exclude kelp-meal",
      "--case",
      "c: --set blend=each",
      "--case",
      "d: --price all=+1%",
    ]);
    for (const line of stdout.split("\n")) expect(line.length, line).toBeLessThanOrEqual(80);
  });

  it("exits 3 where the plan itself has no mix", async () => {
    const { code, stdout } = await run([
      "whatif",
      DEMO,
      "--only",
      "feather-meal",
      "--case",
      "dear: --price gypsum=+5%",
      "--json",
    ]);
    expect(code).toBe(3);
    expect((JSON.parse(stdout) as Comparison).base.total).toBeNull();
  });

  it.each([
    [["--price", "fether-meal=+5%"], "did you mean `feather-meal`?"],
    [["--exclude", "feather"], "the plan has no amendment `feather`"],
    [["--price", "feather-meal=5%"], "write `+5%` or `-5%`"],
    [["--price", "feather-meal"], "write an id, `=` and the change"],
    [["--case", "--price feather-meal=+5%"], "begin with a name and a colon"],
    [["--case", "x: --prise feather-meal=+5%"], "`--prise` is no flag of a case"],
    [["--case", "x: --price"], "--price needs a value"],
    [["--case", "x:"], "no change is given"],
    [["--case", "x: --exclude 'kelp-meal"], "is not closed"],
    [["--case", "x: --exclude kelp-meal", "--case", "x: --exclude gypsum"], "two cases are called `x`"],
    [["--case", "x: --set batch.size=40"], "has no unit"],
    [["--with", "nowhere.yaml"], "nowhere.yaml"],
    [["--cases", "nowhere.yaml"], "nowhere.yaml"],
    [["--compare", "nowhere.csv"], "the file `nowhere.csv` is not there"],
    [[], "say what changes"],
  ])("says what is wrong with %j", async (args, message) => {
    const { code, stdout, stderr } = await run(["whatif", DEMO, ...args]);
    expect(stderr).toContain(message);
    expect(stdout).toBe("");
    expect(code).toBe(2);
  });

  it("names file, line and column of a slip in a price list", async () => {
    const list = "id,size,price\nfeather-meal,50 lb,39\nsoybean-meal,fifty lb,20\n";
    const { code, stderr } = await run(["whatif", DEMO, "--compare", "list.csv"], { "/test/list.csv": list });
    expect(code).toBe(2);
    expect(stderr).toContain("list.csv:3:14: `fifty lb`");
  });

  it("says which rows name nothing, and what one of them may be meant for", async () => {
    const list = "id,size,price\nfeather-meal,50 lb,39\nsoybean-meel,50 lb,20\n";
    const { code, stdout } = await run(["whatif", DEMO, "--compare", "list.csv", "--json"], {
      "/test/list.csv": list,
    });
    expect(code).toBe(0);
    expect(JSON.parse(stdout).cases[0].notes.join()).toContain("Is `soybean-meel` meant for `soybean-meal`?");
  });
});

describe("the words of a case", () => {
  it("parts them as a shell would", () => {
    expect(shellWords(`--price a=+10% --set 'batch.size=60 lb' --set "x=\\"y\\"" b\\ c ''`)).toEqual([
      "--price",
      "a=+10%",
      "--set",
      "batch.size=60 lb",
      "--set",
      'x="y"',
      "b c",
      "",
    ]);
  });

  it("gives back any words that were quoted", () => {
    fc.assert(
      fc.property(fc.array(fc.string()), (words) => {
        const quoted = words.map((word) => `'${word.replaceAll("'", `'\\''`)}'`).join(" ");
        expect(shellWords(quoted)).toEqual(words);
      }),
    );
  });

  it("reads a case", () => {
    expect(parseCase("dear: --price a=+10% --price b=2/kg --exclude c,d --with e.yaml")).toEqual({
      name: "dear",
      price: { a: [{ kind: "factor", factor: 1.1 }], b: [{ kind: "price", pricePerKg: 2 }] },
      exclude: ["c", "d"],
      with: ["e.yaml"],
      set: [],
    });
    const { price } = caseOf("x", { price: ["a==38.50/50 lb"], exclude: [], with: [], set: [] });
    expect(price.a).toEqual([{ kind: "pack", price: 38.5, size: { kg: expect.closeTo(22.6796185, 9) } }]);
  });

  it("loses no id, whatever it is called", async () => {
    for (const id of ["__proto__", "constructor", "toString"]) {
      const { code, stdout, stderr } = await run(["whatif", DEMO, "--price", `${id}=+10%`]);
      expect(code, id).toBe(2);
      expect(stdout).toBe("");
      expect(stderr).toContain(`the plan has no amendment \`${id}\``);
    }
  });
});

describe("changes of a plan", () => {
  const plan: Plan = loadTree({
    plan: "Small",
    amendments: {
      meal: {
        analysis: { N: 10 },
        packs: [
          { size: "10 kg", price: 20 },
          { size: "1 kg", price: 3 },
        ],
        release: "fast",
      },
      shed: { analysis: { N: 5 }, stock: "10 kg", release: "fast" },
      liquid: {
        analysis: { N: 2 },
        packs: [{ size: "1 kg", price: 1 }],
        density: "0.5 kg/L",
        release: "fast",
      },
    },
    target: { target: "Crop", season: "90 days", need: { per: "bed", N: "1 kg" } },
    bed: { plants: 10 },
  });
  const priceOf = (changed: Plan, id: string) =>
    cheapestPricePerKg(changed.amendments.find((a) => a.id === id)!);
  const change = (price: Record<string, ReturnType<typeof caseOf>["price"][string]>) => {
    const result = changePlan(plan, { price, exclude: [] }, "x");
    if (!result.ok) throw new Error(formatProblems(result.problems));
    return result.value.plan;
  };

  it("keep the relation between sizes", () => {
    const dearer = change({ meal: { kind: "price", pricePerKg: 4 } });
    expect(dearer.amendments.find(({ id }) => id === "meal")!.packs).toEqual([
      { sizeKg: 10, price: 40 },
      { sizeKg: 1, price: 6 },
    ]);
    expect(priceOf(change({ meal: { kind: "factor", factor: 0.5 } }), "meal")).toBe(1);
    expect(plan.amendments.find(({ id }) => id === "meal")!.packs[0]!.price).toBe(20);
  });

  it("put a price on what was only in the shed, and refuse a factor there", () => {
    expect(priceOf(change({ shed: { kind: "price", pricePerKg: 2 } }), "shed")).toBe(2);
    const refused = changePlan(plan, { price: { shed: { kind: "factor", factor: 2 } }, exclude: [] }, "x");
    expect(refused.ok).toBe(false);
    expect(priceOf(change({ all: { kind: "factor", factor: 2 } }), "shed")).toBeNull();
  });

  it("take prices and volumes from a list", () => {
    const rows = readPriceList("id,size,price\nliquid,2 L,3\nmeal,per kg,1.5\n", "list.csv");
    if (!rows.ok) throw new Error(formatProblems(rows.problems));
    const listed = applyPriceList(plan, rows.value, true);
    if (!listed.ok) throw new Error(formatProblems(listed.problems));
    expect(priceOf(listed.value.plan, "liquid")).toBeCloseTo(3, 12);
    expect(priceOf(listed.value.plan, "meal")).toBe(1.5);
    expect(priceOf(listed.value.plan, "shed")).toBeNull();
    expect(listed.value.notes).toEqual(["Not on the list, so that only the shed has them: shed."]);
  });
});

describe("a comparison by the purchase", () => {
  it("says where a purchase is the best found and not proven, in words and in CSV", async () => {
    const plan = await demo();
    const cases = [{ name: "dear", plans: [plan] as const, notes: [] }];
    const { comparison: found, base } = await comparePlans([plan], cases, { by: "purchase" });
    expect(found.cases[0]).toMatchObject({ status: "optimal", difference: 0, purchase: { gap: 0 } });
    const text = (one: Comparison) => renderTerminal(whatIfReport(one, base), { width: 200, colour: false });
    expect(text(found)).not.toContain("Not every purchase is proven");
    const [only] = found.cases;
    const stopped: Comparison = {
      ...found,
      cases: [{ ...only!, status: "found", purchase: { ...only!.purchase!, gap: 0.03 } }],
    };
    expect(text(stopped)).toContain(
      "Not every purchase is proven to cost least: one could cost up to 3.0% less.",
    );
    const rows = renderCsv(whatIfReport(stopped, base)).split("\r\n");
    expect(rows[1]).toMatch(/^as planned,optimal,/);
    expect(rows[2]).toMatch(/^dear,found,/);
  });

  slow("has the totals that shop has, case by case, with the weight beside them", async () => {
    const flags = [
      ["dear", ["--price", "feather-meal=+40%"]],
      ["no feathers", ["--exclude", "feather-meal"]],
      ["large litter", ["--price", "turkey-litter-pellets=9/25 lb"]],
      ["nowhere", ["--set", "target.need.N=900 lb"]],
    ] as const;
    const cases = flags.flatMap(([name, words]) => [
      "--case",
      `${name}: ${words.map((word) => (word.includes(" ") ? `"${word}"` : word)).join(" ")}`,
    ]);
    const world = testWorld();
    const code = await main(["whatif", DEMO, ...cases, "--by", "purchase", "--json"], world);
    expect(code).toBe(0);
    const found = JSON.parse(world.written.stdout);
    expect(found.by).toBe("purchase");
    const totalOf = async (words: readonly string[]) => {
      const own = [...words];
      const limits = own.includes("feather-meal")
        ? ["--set", "limits={turkey-litter-pellets: {min_share: 20%}}"]
        : [];
      const shop = testWorld();
      await main(["shop", DEMO, ...own, ...limits, "--json"], shop);
      return JSON.parse(shop.written.stdout).cost as Record<
        "total" | "goods" | "delivery" | "byWeight",
        number
      >;
    };
    for (const [k, [name, words]] of flags.entries()) {
      const one = found.cases[k];
      const { total, goods, delivery, byWeight } = await totalOf(words);
      expect([one.name, one.total], name).toEqual([name, total]);
      if (total === null) {
        expect([one.status, one.difference]).toEqual(["infeasible", null]);
        continue;
      }
      expect(one.byWeight).toBeCloseTo(byWeight, 9);
      expect(one.purchase).toMatchObject({ goods, delivery });
      expect(one.difference).toBeCloseTo(total - found.base.total, 9);
    }
    expect(found.base.total).toBe((await totalOf([])).total);
  });

  it("says what it is by", async () => {
    const world = testWorld({ columns: 80 });
    await main(["whatif", DEMO, "--price", "feather-meal=+40%", "--by", "purchase"], world);
    expect(world.written.stdout).toMatch(/in whole packs and with delivery/);
    expect(world.written.stdout).toMatch(/By\s/);
    for (const line of world.written.stdout.split("\n")) expect(line.length).toBeLessThanOrEqual(80);
    const wrong = testWorld();
    expect(await main(["whatif", DEMO, "--price", "gypsum=+1%", "--by", "bags"], wrong)).toBe(2);
    expect(wrong.written.stderr).toContain("this takes `purchase` or `weight`");
  });
});
