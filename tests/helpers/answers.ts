/** Answers for one bed with the parts of the bed and its mix at hand: what most tests look at. */
import { type AnswerOptions, solvePlans } from "../../src/flow/answer.ts";
import type { Amendment, Plan } from "../../src/model.ts";
import type { Result } from "../../src/problem.ts";
import type { BedAnswer, Solution } from "../../src/results/solution.ts";

/** One material over the whole season. */
export interface Used {
  readonly id: string;
  readonly name: string;
  readonly kg: number;
  /** Of the weight of all mixes. */
  readonly share: number;
  readonly stockKg: number;
  /** Money for what is bought. */
  readonly cost: number;
}

/** The answer with its first bed unfolded. */
export interface OneBed
  extends Omit<Solution, "cautions" | "warnings" | "conflicts">,
    Omit<BedAnswer, "cost" | "conflicts" | "cautions" | "warnings"> {
  readonly conflicts: Solution["conflicts"];
  readonly cautions: Solution["cautions"];
  readonly warnings: Solution["warnings"];
  /** By id: what goes into the ground. */
  readonly amendments: readonly Used[];
  readonly total: number | null;
  readonly goods: number | null;
  readonly delivery: number | null;
  readonly byWeight: number | null;
  readonly gap: number | null;
  /** The first plan. */
  readonly plan: Plan;
}

/** The parts of an answer by name; of several beds the first bed's. */
export function unfolded(solution: Solution): OneBed {
  const [bed] = solution.beds;
  const wholeKg = solution.mixes.reduce((sum, { kg }) => sum + kg, 0);
  const amendments = solution.purchases
    .filter(({ usedKg }) => usedKg > 0)
    .map(({ id, name, usedKg, stockKg, cost }) => ({
      id,
      name,
      kg: usedKg,
      share: usedKg / wholeKg,
      stockKg,
      cost,
    }))
    .sort((a, b) => (a.id < b.id ? -1 : 1));
  const { cost, conflicts, cautions, warnings, ...rest } = solution;
  const { total, goods, delivery, byWeight, gap } = cost;
  const [plan] = solution.inputs.plans;
  const sums = { total, goods, delivery, byWeight, gap };
  return { ...bed!, ...rest, ...sums, plan: plan!, cost, conflicts, cautions, warnings, amendments };
}

/** The mix of least cost by weight. */
export async function weighed(
  plan: Plan,
  candidates?: () => readonly Amendment[] | Promise<readonly Amendment[]>,
  limit: Pick<AnswerOptions, "clock" | "seconds"> = {},
  options: AnswerOptions = {},
): Promise<OneBed> {
  const asked = { by: "weight", ...limit, ...options, ...(candidates ? { candidates } : {}) } as const;
  const found = await solvePlans([plan], asked);
  if (!found.ok) throw new Error(found.problems.map(({ message }) => message).join("; "));
  return unfolded(found.value);
}

/** The cheapest purchase for plans that share it. */
export async function bought(
  plans: readonly [Plan, ...Plan[]],
  options: AnswerOptions = {},
): Promise<Result<OneBed>> {
  const found = await solvePlans(plans, { detail: "mix", ...options });
  return found.ok ? { ok: true, value: unfolded(found.value) } : found;
}
