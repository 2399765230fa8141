/** The search for the best split of the applications, as sections of a report. */
import { counted, percent } from "../words/numbers.ts";
import { cell, figures, paragraph, type Section, section, table, words } from "./report.ts";
import type { View } from "./solution-view.ts";

/** One section where a split was searched for, else none. */
export function splitSections({ solution: { split }, money }: View): Section[] {
  if (!split) return [];
  const title = "The split of the applications";
  const splits = `${counted(split.splits, "split")} in steps of ${percent(split.step)}, each at least ${percent(split.least)}`;
  if (!split.found || split.total === null)
    return section(title, paragraph(`None of the ${splits} has a mix.`, "bad"));
  const saved = split.today === null ? null : split.today - split.total;
  const verdict =
    saved === null
      ? "As planned there is no mix at all."
      : saved > 5e-3
        ? `It saves ${money(saved)} against the plan.`
        : saved < -5e-3
          ? `The plan's own split is finer than these steps and costs ${money(-saved)} less.`
          : "The plan's own split is as good.";
  const [first] = split.applications;
  return section(
    title,
    paragraph(
      split.complete
        ? `The cheapest of all ${splits}. ${verdict}`
        : `The cheapest found of ${splits}; none can cost less than ${money(split.bound ?? 0)}. ${verdict}`,
    ),
    table(
      split.applications,
      [
        words("Application", "application", (a) => a.name),
        figures("Best split", "share", (a) => a.share, percent),
        figures("As planned", "planned_share", (a) => a.today, percent),
        figures("Next best", "next_share", (a) => a.runnerUp, percent),
      ],
      [
        "Cost of the mix",
        money(split.total),
        split.today === null ? cell("no mix", "bad") : money(split.today),
        split.runnerUp === null ? "" : money(split.runnerUp),
      ],
    ),
    paragraph(
      first && first.share > first.today
        ? "What is spread earlier has longer to release, which is why less of it does. It also lies open to rain for longer; only `ahead_max` in the target holds it back."
        : "",
    ),
  );
}
