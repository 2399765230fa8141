/** The search for the best split of the applications, as sections of a report. */
import type { Solution } from "../results/solution.ts";
import { counted, money, percent } from "../words/numbers.ts";
import {
  type Block,
  cell,
  figures,
  numberCell,
  paragraph,
  type Section,
  tableBlock,
  tableOf,
  words,
} from "./report.ts";

/** One section where a split was searched for, else none. */
export function splitSections({ split, currency }: Solution): Section[] {
  if (!split) return [];
  const cash = (amount: number): string => money(amount, currency);
  const least = `in steps of ${percent(split.step)}, each at least ${percent(split.least)}`;
  if (!split.found || split.total === null)
    return [
      {
        title: "The split of the applications",
        blocks: [paragraph(`None of the ${counted(split.splits, "split")} ${least} has a mix.`, "bad")],
      },
    ];
  const table = tableOf(
    split.applications,
    [
      words("Application", "application", (a) => a.name),
      figures("Best split", "share", (a) => a.share, percent),
      figures("As planned", "planned_share", (a) => a.today, percent),
      figures("Next best", "next_share", (a) => a.runnerUp, percent),
    ],
    {
      application: cell("Cost of the mix"),
      share: numberCell(cash(split.total), split.total),
      planned_share:
        split.today === null ? cell("no mix", "bad") : numberCell(cash(split.today), split.today),
      ...(split.runnerUp === null ? {} : { next_share: numberCell(cash(split.runnerUp), split.runnerUp) }),
    },
  );
  const saved = split.today === null ? null : split.today - split.total;
  const verdict =
    saved === null
      ? "As planned there is no mix at all."
      : saved > 5e-3
        ? `It saves ${cash(saved)} against the plan.`
        : saved < -5e-3
          ? `The plan's own split is finer than these steps and costs ${cash(-saved)} less.`
          : "The plan's own split is as good.";
  const [first] = split.applications;
  const early =
    first && first.share > first.today
      ? [
          paragraph(
            "What is spread earlier has longer to release, which is why less of it does. It also lies open to rain for longer; only `ahead_max` in the target holds it back.",
          ),
        ]
      : [];
  const blocks: Block[] = [
    paragraph(
      split.complete
        ? `The cheapest of all ${counted(split.splits, "split")} ${least}. ${verdict}`
        : `The cheapest found of ${counted(split.splits, "split")} ${least}; none can cost less than ${cash(split.bound ?? 0)}. ${verdict}`,
    ),
    tableBlock(table),
    ...early,
  ];
  return [{ title: "The split of the applications", blocks }];
}
