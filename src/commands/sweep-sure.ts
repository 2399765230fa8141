/** What a sweep of sureness is asked for with: `sweep --sure N --from 50% --to 99%`. */

import type { SureSweepRequest } from "../flow/sweep-sure.ts";
import type { Plan } from "../model.ts";
import { type Nutrient, nearestNutrient, readNutrient } from "../nutrients.ts";
import { fail, ok, type Problem, problemOf, type Result } from "../problem.ts";
import { parseQuantity } from "../units.ts";
import { listed } from "../words/numbers.ts";
import { chancePercent } from "../words/sure-words.ts";
import { type Options, textOption, UsageError } from "./command.ts";
import { stepsOf } from "./sweep.ts";

/** Each step is solved by itself. */
const MOST_STEPS = 1_000;
const RANGE = { from: 0.5, to: 0.999 } as const;
const ALL = "all";

/** Reads the flags of a sweep of sureness; `names` are nutrients, or `all` that the plan needs. */
export function sureSweepRequest(plan: Plan, names: string, options: Options): Result<SureSweepRequest> {
  for (const flag of ["price", "need", "cap"])
    if (textOption(options, flag) !== undefined)
      throw new UsageError(`sweep one thing: not --sure and --${flag} at once`);
  if (textOption(options, "by") === "purchase")
    throw new UsageError(
      "--sure is swept by weight; what sureness costs in whole packs is in `shop --sure 90% --all`",
    );
  const nutrients = nutrientsOf(plan, names);
  if (!nutrients.ok) return nutrients;
  const problems: Problem[] = [];
  const end = (flag: "from" | "to"): number => {
    const text = textOption(options, flag);
    if (text === undefined)
      throw new UsageError("a sweep needs --from and --to, for instance --from 50% --to 95%");
    const read = parseQuantity(text, "share");
    if (!read.ok) problems.push(problemOf(read, { about: `--${flag}` }));
    else if (read.value >= RANGE.from - 1e-12 && read.value <= RANGE.to + 1e-12) return read.value;
    else
      problems.push({
        code: "number-range",
        message: `--${flag} ${text}: a share of seasons is swept from 50% to 99.9%`,
        hint: "a mix that just meets a need on average meets it in 5 seasons of 10",
      });
    return 0;
  };
  const [from, to] = [end("from"), end("to")];
  if (problems.length > 0) return fail(...problems);
  if (!(from < to))
    throw new UsageError(
      `--from ${chancePercent(from)} is not below --to ${chancePercent(to)}; a sweep goes upwards`,
    );
  const steps = stepsOf(textOption(options, "steps"), MOST_STEPS, " of sureness");
  const others = (plan.sure?.each ?? []).filter(({ nutrient }) => !nutrients.value.includes(nutrient));
  const together = plan.sure?.together;
  const asked = [
    ...others.map(({ nutrient, p }) => `${nutrient} at ${chancePercent(p)}`),
    ...(together ? [`${listed(together.nutrients)} together at ${chancePercent(together.p)}`] : []),
  ];
  const kept =
    asked.length === 0
      ? ""
      : ` ${asked.join("; ")} ${asked.length === 1 && together === undefined ? "stays" : "stay"} as the plan asks.`;
  const simple = plan.simple ? " The plan's `simple` is ignored here." : "";
  return ok({
    nutrients: nutrients.value,
    from,
    to,
    steps,
    understood: `The share of seasons that meet ${listed(nutrients.value)}${nutrients.value.length > 1 ? ", each by itself," : ""} goes from ${chancePercent(from)} to ${chancePercent(to)}; all else stays.${kept}${simple}`,
  });
}

function nutrientsOf(plan: Plan, names: string): Result<readonly Nutrient[]> {
  const needed = plan.demands.flatMap(({ nutrient, minKg }) => (minKg > 0 ? [nutrient] : []));
  if (names.trim().toLowerCase() === ALL && needed.length > 0) return ok(needed);
  const problems: Problem[] = [];
  const found = new Set<Nutrient>();
  for (const name of names.split(/[\s,]+/).filter((part) => part !== "")) {
    const nutrient = readNutrient(name)?.nutrient;
    if (nutrient !== undefined && needed.includes(nutrient)) found.add(nutrient);
    else if (nutrient === undefined) {
      const near = nearestNutrient(name);
      problems.push({
        code: "nutrient-unknown",
        message: `--sure: \`${name}\` is no nutrient the program knows`,
        hint:
          near === undefined
            ? `name needs of the plan (${needed.join(", ")}), or a share of seasons such as 90%`
            : `did you mean \`${near}\`?`,
      });
    } else
      problems.push({
        code: "choice-unknown",
        message: `--sure: the plan has no need of ${nutrient} to be sure of`,
        hint: `it needs ${needed.length > 0 ? needed.join(", ") : "nothing"}`,
      });
  }
  return problems.length > 0 ? fail(...problems) : ok([...found]);
}
