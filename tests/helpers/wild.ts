/**
 * Calls of the library as a careless program makes them: arguments of another kind, absent, half right. What comes back must
 * be a value or an `InputError`; the functions are those that ship, from `dist/`.
 */
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { type Random, seeded } from "./random.ts";

export type Library = typeof import("../../src/index.ts");

/** The library that ships: build it first. */
export const shippedLibrary = async (root: string): Promise<Library> =>
  (await import(pathToFileURL(join(root, "dist/index.js")).href)) as Library;

type Call = (...args: readonly unknown[]) => unknown;
type Ways = Readonly<Record<string, readonly unknown[]>>;

const taken = <T>(result: { readonly ok: true; readonly value: T } | { readonly ok: false }): T => {
  if (!result.ok) throw new Error("the files of the tests load");
  return result.value;
};

/** Arguments that each function takes, to be spoiled. */
async function soundCalls(root: string, library: Library): Promise<Ways> {
  const file = join(root, "tests/cases/two-meals/plan.yaml");
  const mixFile = join(root, "examples/brassica-terraces/mix.yaml");
  const farmFile = join(root, "examples/market-garden/farm.yaml");
  const listFile = join(root, "examples/scripts/prices-millside.csv");
  const casesFile = join(root, "examples/scripts/cases.yaml");
  const { diskReader: io, SHIPPED_RECIPES: recipesDir } = library;
  const where = { cwd: root, recipesDir };
  const { plan } = taken(library.loadPlanFile(file));
  const { mix } = taken(library.loadMixFile(mixFile));
  const { farm } = taken(library.loadFarmFile(farmFile));
  const small = { ...farm, beds: farm.beds.slice(0, 2) };
  const list = taken(library.loadPriceListFile(listFile));
  const solution = await library.solvePlan(plan, { detail: "whole", curves: true });
  const infeasible = await library.solvePlan({
    ...plan,
    demands: plan.demands.map((one) => ({ ...one, minKg: 5, maxKg: 5 })),
  });
  const handle = { kind: "price", id: plan.amendments[0]!.id } as const;
  const request = { handle, from: 0, to: 2, steps: 3, understood: "" };
  const sweep = await library.sweepPlan(plan, request, { by: "weight" });
  const dear = taken(library.changePrices(plan, { all: "+5%" }));
  const cases = [{ name: "dear", plans: [dear.plan], notes: [] }] as const;
  const { comparison, base } = await library.comparePlans([plan], cases, { by: "weight" });
  const assay = taken(await library.assayMix(mix));
  const report = library.solutionReport(solution);
  const problems = [
    { code: "key-unknown", message: "no", hint: "yes", place: { file: "a", line: 1, column: 1 } },
  ];
  return {
    applyPriceList: [plan, list, false],
    assayMix: [mix, plan],
    assayReport: [assay, "whole"],
    cardJson: [solution],
    cardOf: [solution],
    cardReport: [solution],
    changePlan: [plan, { price: { all: { kind: "factor", factor: 2 } }, exclude: [] }, "dear"],
    changePrices: [plan, { [plan.amendments[0]!.id]: "+10%" }, "dear"],
    cheapestOf: [plan, [dear]],
    checkFiles: [io, [file, mixFile], where],
    checkPlan: [plan],
    comparePlans: [[plan], cases, { by: "weight" }],
    formatProblems: [problems],
    fromSi: [3, "lb"],
    loadAmendments: [io, join(recipesDir, "amendments/all.yaml"), where],
    loadAmendmentsFile: [undefined, where],
    loadCases: [io, casesFile, where],
    loadCasesFile: [casesFile, where],
    loadFarm: [io, { ...where, planFile: farmFile }],
    loadFarmFile: [farmFile, where],
    loadMix: [io, mixFile, { ...where, overrides: [], extraAmendments: [] }],
    loadMixFile: [mixFile, where],
    loadPlan: [
      io,
      { ...where, planFile: file, overrides: [{ path: ["bed", "plants"], value: 240, flag: "plants" }] },
    ],
    loadPlanFile: [file, where],
    loadPriceListFile: [listFile, where],
    loadTarget: [io, join(recipesDir, "crops/pepper.yaml"), where],
    parsePriceChange: ["1.20/lb"],
    parseQuantity: ["3 lb", "mass", { positive: true }],
    readPriceList: ["id,size,price\nblood-meal,50 lb,60\n", "list.csv", "point"],
    renderCardHtml: [library.cardOf(solution)],
    renderCsv: [report],
    renderHtml: [report],
    renderMarkdown: [report],
    renderTerminal: [report, { width: 80, colour: false }],
    shopList: [solution],
    shopReport: [solution, "whole"],
    solutionReport: [infeasible, "whole"],
    solveFarm: [small, { by: "weight", seconds: 1 }],
    solvePlan: [plan, { by: "weight", seconds: 1 }],
    solvePlans: [[plan], { seconds: 1, detail: "mix" }],
    sweepPlan: [plan, request, { by: "weight" }],
    sweepReport: [sweep],
    toSi: [3, "lb"],
    whatIfReport: [comparison, base],
  };
}

const revoked = (): unknown => {
  const { proxy, revoke } = Proxy.revocable({}, {});
  revoke();
  return proxy;
};
const hostile = (): unknown =>
  new Proxy(
    {},
    {
      get: () => {
        throw new RangeError("no");
      },
    },
  );
const endless = (): unknown => {
  const round: Record<string, unknown> = {};
  round.again = round;
  return round;
};

/** Values that hardly any parameter is meant to take. */
const JUNK: readonly (() => unknown)[] = [
  ...[undefined, null, Number.NaN, Infinity, -Infinity, 0, -1, 0.5, 1e308, 5e-324, 2 ** 53, true, false],
  ...["", "5", "no such thing", "__proto__", "constructor", "\0", "😀".repeat(2000), 10n, Symbol("s")],
  ...[[], [[]], [null], [1, 2], Object.freeze([{}]), {}, Object.freeze({}), { ok: true }, { length: 3 }],
  ...[Object.create(null), new Date(0), /x/, new Map([["a", 1]]), new Error("no"), () => 1],
].map((value) => () => value);

/** A value with one part of it put out of shape; objects on the way are copied. */
function spoiled(value: unknown, random: Random): unknown {
  const inside = typeof value === "object" && value !== null && Object.keys(value).length > 0;
  if (!inside || random.chance(0.12)) {
    if (typeof value === "number" && random.chance(0.4)) return value * random.pick([-1, 1e9, 1e-9, 0]);
    return random.pick([...JUNK, revoked, hostile, endless])();
  }
  if (Array.isArray(value)) {
    const at = random.whole(0, value.length - 1);
    if (random.chance(0.1))
      return random.pick([[], value.slice(1), [...value, ...value], [...value].reverse()]);
    return value.map((one, i) => (i === at ? spoiled(one, random) : one));
  }
  const key = random.pick(Object.keys(value));
  const { [key]: part, ...rest } = value as Record<string, unknown>;
  if (random.chance(0.15)) return rest;
  if (random.chance(0.05)) return { ...rest, [`${key}s`]: part };
  if (random.chance(0.05)) return Object.freeze({ ...value, more: random.pick(JUNK)() });
  return { ...rest, [key]: spoiled(part, random) };
}

/** The same as a check of its own. */
export async function checkWild(root: string, count: number, print: (line: string) => void): Promise<number> {
  const { calls, refused, crashes } = await wildCalls(root, count);
  for (const { name, call, error } of crashes) print(`${name}, call ${call}: ${String(error)}`);
  print(`${calls} calls, ${refused} refused, ${crashes.length} with an error that is no InputError`);
  return crashes.length;
}

/** A call that ended as it should not. */
export interface Crash {
  readonly name: string;
  /** The number of the call, which draws its arguments. */
  readonly call: number;
  readonly error: unknown;
}

/**
 * Calls every function that the library exports, first as it is meant to be called.
 * @param count of wild calls of each.
 * @returns how many there were, how many were refused, and those that ended with another error.
 * @throws Error where a function is exported that no arguments are known for.
 */
export async function wildCalls(
  root: string,
  count: number,
): Promise<{ readonly calls: number; readonly refused: number; readonly crashes: readonly Crash[] }> {
  const library = await shippedLibrary(root);
  const sound = await soundCalls(root, library);
  const exported = Object.entries(library).filter(
    ([name, value]) => typeof value === "function" && !name.endsWith("Error"),
  ) as unknown as readonly (readonly [string, Call])[];
  const crashes: Crash[] = [];
  let calls = 0;
  let refused = 0;
  for (const [name, call] of exported) {
    const good = sound[name];
    if (good === undefined) throw new Error(`say in tests/helpers/wild.ts what ${name} takes`);
    await call(...good);
    for (let i = 0; i < count; i++) {
      const random = seeded(i + 1);
      const at = random.whole(0, good.length - 1);
      const args = random.chance(0.2)
        ? good.map(() => random.pick(JUNK)())
        : good.map((one, a) => (a === at ? spoiled(one, random) : one));
      calls += 1;
      try {
        await call(...(random.chance(0.1) ? args.slice(0, at) : args));
      } catch (error) {
        if (error instanceof library.InputError) refused += 1;
        else crashes.push({ name, call: i, error });
      }
    }
  }
  return { calls, refused, crashes };
}
