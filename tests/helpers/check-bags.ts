/**
 * Whole-pack purchases of seeded random plans against a model written a second time and solved by HiGHS, and the time
 * they take against HiGHS alone on the same program.
 */

import { loadPlan } from "../../src/files/load.ts";
import { Deadline, errandFor, prepare, solveBeds } from "../../src/flow/purchase.ts";
import type { Plan } from "../../src/model.ts";
import { solveWithHighs } from "../../src/solver/engine-highs.ts";
import { UnverifiedError } from "../../src/solver/verify.ts";
import { solveWhole } from "../../src/solver/whole.ts";
import { bought as shopPlans } from "./answers.ts";
import { memoryReader } from "./files.ts";
import { seeded } from "./random.ts";
import { randomShopSpec, type ShopSpec, shopTree } from "./random-shop.ts";
import { type Further, glpkTotal, highsTotal } from "./reference-shop.ts";

/** The plan of a seed, by way of a plan file. */
export function planOf(seed: number, further: Further = {}): { plan: Plan; spec: ShopSpec } {
  const spec = randomShopSpec(seed);
  const { most, leastKg } = further;
  const tree = {
    ...shopTree(spec, seed),
    ...(most === undefined && leastKg === undefined
      ? {}
      : {
          simple: {
            ...(most === undefined ? {} : { most }),
            ...(leastKg === undefined ? {} : { least: `${leastKg} kg` }),
          },
        }),
  };
  const loaded = loadPlan(memoryReader({ "/beds/plan.yaml": JSON.stringify(tree) }), {
    planFile: "plan.yaml",
    cwd: "/beds",
    recipesDir: "/recipes",
  });
  if (!loaded.ok) throw new Error(`seed ${seed}: ${loaded.problems.map((p) => p.message).join("; ")}`);
  return { plan: loaded.value.plan, spec };
}

/** The integer program of a season's purchase with a first point of it; null where one of the plans has no mix. */
export async function purchaseProgram(plans: readonly [Plan, ...Plan[]]) {
  const solved = await solveBeds(plans);
  return "beds" in solved ? prepare(errandFor(solved.beds, {}, new Deadline(1, () => 0)), 1) : null;
}

export interface Tally {
  seed: number;
  status: "optimal" | "found" | "infeasible" | "unverified";
  total: number;
  gap: number;
  /** undefined: the independent solver did not finish. */
  reference: number | null | undefined;
  agrees: boolean;
  /** Whole answer of `shop`, and of the integer program alone: ours, HiGHS. Milliseconds. */
  shopMs: number;
  ownMs: number;
  highsMs: number;
}

/** Limits of few amendments, or on what is left over, drawn from the seed. */
export function furtherOf(seed: number, kind: "simple" | "left"): Further {
  const r = seeded(seed + 99);
  if (kind === "left")
    return { left: r.chance(0.4) ? { share: r.pick([0.05, 0.2, 0.4]) } : { kg: r.pick([0.2, 1, 3, 8]) } };
  const most = r.whole(1, 5);
  return r.chance(0.6) ? { most, leastKg: r.pick([0.05, 0.2, 0.5, 1.5]) } : { most };
}

/** Purchases of one plan, timed and compared. */
export async function checkBag(
  seed: number,
  seconds: number,
  solver: "highs" | "glpk" = "highs",
  timed = true,
  further: Further = {},
): Promise<Tally> {
  const { plan, spec } = planOf(seed, further);
  const reference = await (solver === "highs" ? highsTotal(spec, 60, further) : glpkTotal(spec, 10));
  const begun = performance.now();
  let status: Tally["status"] = "unverified";
  let total = Number.NaN;
  let gap = Number.NaN;
  try {
    const result = await shopPlans([plan], {
      seconds,
      clock: () => performance.now(),
      ...(further.left ? { mostLeft: further.left } : {}),
    });
    if (!result.ok) throw new Error(result.problems[0]!.message);
    ({ status } = result.value);
    total = result.value.total ?? Number.NaN;
    gap = result.value.gap ?? Number.NaN;
  } catch (error) {
    if (!(error instanceof UnverifiedError)) throw error;
  }
  const shopMs = performance.now() - begun;
  let ownMs = 0;
  let highsMs = 0;
  const purchase =
    timed && (status === "optimal" || status === "found") ? await purchaseProgram([plan]) : null;
  if (purchase) {
    const { program } = purchase;
    const a = performance.now();
    await solveWhole(program, {
      seconds,
      clock: () => performance.now(),
      tieBreaks: program.tieBreaks,
    });
    const b = performance.now();
    await solveWithHighs(program, seconds);
    ownMs = b - a;
    highsMs = performance.now() - b;
  }
  // Totals within 0.001 are the same: of these the one of fewest materials is taken.
  const near = (x: number, y: number) => Math.abs(x - y) <= 0.001 + 1e-5 * Math.max(1, Math.abs(y));
  const agrees =
    reference === undefined
      ? false
      : reference === null
        ? status === "infeasible"
        : status === "optimal"
          ? near(total, reference)
          : status === "found" &&
            total >= reference - 1e-5 * total &&
            total * (1 - gap) <= reference * (1 + 1e-5);
  return { seed, status, total, gap, reference, agrees, shopMs, ownMs, highsMs };
}

function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.floor(sorted.length / 2)] ?? Number.NaN;
}

/** Runs many and prints what came of them; the exit code of the check. */
export async function checkBags(
  count: number,
  seconds: number,
  print: (line: string) => void,
): Promise<number> {
  await solveWithHighs(
    {
      columns: [{ tag: { kind: "other", label: "x" }, cost: 1, upper: 9, integer: true }],
      rows: [{ tag: { kind: "other", label: "r" }, index: [0], value: [2], lower: 3, upper: Infinity }],
    },
    1,
  );
  const tallies: Tally[] = [];
  for (let seed = 1; seed <= count; seed++) {
    const tally = await checkBag(seed, seconds);
    tallies.push(tally);
    if (!tally.agrees || tally.shopMs > seconds * 2000)
      print(
        `seed ${seed}: ${tally.status} ${tally.total}, gap ${tally.gap}; independent ${tally.reference}; ${tally.shopMs.toFixed(0)} ms`,
      );
  }
  const of = (status: Tally["status"]) => tallies.filter((tally) => tally.status === status).length;
  const finished = tallies.filter(({ reference }) => reference !== undefined);
  const agreeing = tallies.filter(({ agrees }) => agrees).length;
  const inTime = tallies.filter(({ shopMs }) => shopMs <= seconds * 2000).length;
  const timed = tallies.filter(({ highsMs }) => highsMs > 0);
  const own = timed.map(({ ownMs }) => ownMs);
  const highs = timed.map(({ highsMs }) => highsMs);
  print(`plans run: ${tallies.length}`);
  print(
    `proven purchases: ${of("optimal")}; no mix fits, proven: ${of("infeasible")}; gap stated: ${of("found")}; not verified: ${of("unverified")}`,
  );
  print(`independent solver finished: ${finished.length}; agreeing: ${agreeing}`);
  print(`ended inside the time limit (${seconds} s, and as long again for what explains): ${inTime}`);
  print(
    `integer program, median: ${median(own).toFixed(1)} ms with ties settled; HiGHS alone, without ties: ${median(highs).toFixed(1)} ms`,
  );
  print(`longest: ${Math.max(...own).toFixed(0)} ms; HiGHS alone: ${Math.max(...highs).toFixed(0)} ms`);
  let further = 0;
  let alike = 0;
  for (const kind of ["simple", "left"] as const)
    for (let seed = 1; seed <= count / 5; seed++) {
      const tally = await checkBag(seed, seconds, "highs", false, furtherOf(seed, kind));
      if (tally.reference === undefined) continue;
      further++;
      if (tally.agrees) alike++;
      else print(`seed ${seed}, ${kind}: ${tally.status} ${tally.total}; independent ${tally.reference}`);
    }
  print(`with few amendments, or little left over: ${further} run, agreeing: ${alike}`);
  return agreeing === finished.length &&
    alike === further &&
    inTime === tallies.length &&
    of("unverified") === 0
    ? 0
    : 1;
}
