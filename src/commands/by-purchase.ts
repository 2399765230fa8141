/** `--by` and `--time-limit`: whether totals are of mixes by weight or of purchases, and how long to look for those. */
import { defined } from "../optional.ts";
import type { ComparedBy } from "../results/comparison.ts";
import { clock, type Flag, type Options, textOption, UsageError } from "./command.ts";

/** Both flags, of which `--by` says this. */
export function byFlags(about: string): Flag[] {
  return [
    ["--by <what>", about],
    ["--time-limit <seconds>", "by purchase: stop looking after so long for each (10 unless given)"],
  ];
}

/** What `--by` says. */
export function comparedBy(options: Options): ComparedBy {
  const by = textOption(options, "by") ?? "weight";
  if (by !== "weight" && by !== "purchase")
    throw new UsageError(`--by ${by}: this takes \`weight\` or \`purchase\``);
  if (by === "weight" && textOption(options, "timeLimit") !== undefined)
    throw new UsageError("--time-limit goes with --by purchase: by weight there is no search to stop");
  return by;
}

/** How long to look for a purchase, by a clock. */
export function searchOptions(options: Options): { readonly seconds?: number; readonly clock: () => number } {
  const text = textOption(options, "timeLimit");
  return {
    ...defined({ seconds: text === undefined ? undefined : secondsOf(text) }),
    clock,
  };
}

function secondsOf(text: string): number {
  const value = /^(\d+(?:\.\d+)?)\s*(?:s|seconds?)?$/.exec(text.trim())?.[1];
  if (value === undefined || !(Number(value) > 0))
    throw new UsageError(`--time-limit ${text}: this takes seconds, for instance --time-limit 10`);
  return Number(value);
}
