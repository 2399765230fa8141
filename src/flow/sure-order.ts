/** A plan's program in an order that names have no part in, for a search whose way, and so whose end, depends on the order. */
import type { Plan } from "../model.ts";
import type { BlendProgram } from "../program/build.ts";
import type { PlanRow } from "../program/tags.ts";

/** By place in that order: the index of an amendment of the plan. */
function orderOf(plan: Plan): number[] {
  const keys = plan.amendments.map((amendment) => {
    const limit = plan.limits.find(({ id }) => id === amendment.id);
    return JSON.stringify([{ ...amendment, id: "", name: "" }, limit && { ...limit, id: "" }]);
  });
  return [...keys.keys()].sort((a, b) => (keys[a]! < keys[b]! ? -1 : keys[a]! > keys[b]! ? 1 : a - b));
}

/** The same plan and program with amendments, columns and rows in that order. */
export function inOwnOrder(
  plan: Plan,
  program: BlendProgram,
): { readonly plan: Plan; readonly program: BlendProgram } {
  const order = orderOf(plan);
  const placeOf = new Map(order.map((a, place) => [plan.amendments[a]!.id, place]));
  const ofAmendment = order.flatMap((a) => [
    ...program.use[a]!,
    ...(program.buy[a] === null ? [] : [program.buy[a]!]),
  ]);
  const known = new Set(ofAmendment);
  const from = [...ofAmendment, ...[...program.columns.keys()].filter((j) => !known.has(j))];
  const to = new Map(from.map((j, place) => [j, place]));
  // Rows of amendments come last, in their order; those of needs and caps stay as they are.
  const rank = ({ tag }: PlanRow): number => ("id" in tag ? 1 + placeOf.get(tag.id)! : 0);
  const rows = [...program.rows]
    .sort((a, b) => rank(a) - rank(b))
    .map((row) => {
      const terms = row.index.map((j, k) => [to.get(j)!, row.value[k]!] as const).sort(([a], [b]) => a - b);
      return { ...row, index: terms.map(([j]) => j), value: terms.map(([, value]) => value) };
    });
  const moved = (j: number): number => to.get(j)!;
  return {
    plan: { ...plan, amendments: order.map((a) => plan.amendments[a]!) },
    program: {
      ...program,
      columns: from.map((j) => program.columns[j]!),
      rows,
      use: order.map((a) => program.use[a]!.map(moved)),
      buy: order.map((a) => (program.buy[a] === null ? null : moved(program.buy[a]!))),
      worth: from.map((j) => program.worth[j] ?? 0),
    },
  };
}
