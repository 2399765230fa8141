/** The flag `--best-split` of `solve`: other shares for the applications, where those cost less. */
import type { Plan } from "../model.ts";
import { type Fault, fail, ok, problemOf, type Result } from "../problem.ts";
import type { SplitFound } from "../results/solution.ts";
import { parseQuantity } from "../units.ts";

const FLAG = "--best-split";
/** One step of the grid, where the flag names no least share. */
const DEFAULT_LEAST = 0.05;

/** The plan with the shares that cost least, and what was found on the way. */
export interface SplitPlan {
  readonly plan: Plan;
  readonly split: SplitFound;
}

/**
 * Searches the shares of a plan.
 * @param value of the flag: the least share of an application as text, or true where it is not given.
 * @returns the plan as it is where no split of the grid has a mix.
 */
export async function bestSplitOf(plan: Plan, value: unknown): Promise<Result<SplitPlan>> {
  const refused = (fault: Fault) => fail<SplitPlan>(problemOf(fault, { about: FLAG }));
  let least = DEFAULT_LEAST;
  if (typeof value === "string") {
    const read = parseQuantity(value, "share", { most: { value: 1, text: "100%" } });
    if (!read.ok) return refused(read);
    least = read.value;
  }
  const count = plan.applications.length;
  const refusals: readonly (readonly [when: boolean, code: string, wrong: string, hint: string])[] = [
    [
      plan.blend === "each",
      "key-conflict",
      "with `blend: each` every application has its own recipe, and there is nothing to split",
      "use it with `blend: one`",
    ],
    [
      plan.simple !== undefined,
      "key-conflict",
      "it does not go together with `simple`",
      "leave one of the two out",
    ],
    [
      plan.sure !== undefined,
      "key-conflict",
      "it counts needs on average, and does not go together with `sure`",
      "leave one of the two out; shares found without `sure` can then be solved with it",
    ],
    [count === 1, "shares-sum", "the plan has one application only", "give it two or more `applications`"],
    [
      Math.ceil(least * 20 - 1e-9) * count > 20,
      "shares-sum",
      `${count} applications of at least ${Number((least * 100).toPrecision(6))}% each are more than the whole`,
      `at most ${Math.floor(20 / count) * 5}% is possible in steps of 5%`,
    ],
  ];
  for (const [when, code, wrong, hint] of refusals) if (when) return refused({ code, wrong, hint });
  const { bestSplit, withShares } = await import("../flow/split.ts");
  const found = bestSplit(plan, least);
  const shares = found.best?.shares ?? found.today.shares;
  return ok({
    plan: withShares(plan, shares),
    split: {
      least,
      step: 0.05,
      applications: plan.applications.map(({ name }, t) => ({
        name,
        share: shares[t]!,
        today: found.today.shares[t]!,
        runnerUp: found.runnerUp?.shares[t] ?? null,
      })),
      found: found.best !== null,
      total: found.best?.total ?? null,
      today: found.today.total,
      runnerUp: found.runnerUp?.total ?? null,
      splits: found.splits,
      complete: found.complete,
      bound: Number.isFinite(found.bound) ? found.bound : null,
    },
  });
}
