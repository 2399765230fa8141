/** `shop`: the answer as a list for the store. */
import { figures } from "../report/report.ts";
import type { Solution } from "../results/solution.ts";
import { money, plainNumber } from "../words/numbers.ts";
import { ANSWER_FLAGS, answered } from "./answer.ts";
import type { Command } from "./command.ts";
import { PLAN_ALIASES, PLAN_FLAGS } from "./plan-options.ts";

export const command: Command = {
  formats: ["ndjson", "list"],
  aliases: PLAN_ALIASES,
  arguments: [["[plans...]", "plan files, which are bought for in one trip; - reads standard input"]],
  flags: [
    ...ANSWER_FLAGS,
    ["--ndjson", "the same as --format ndjson: each plan apart, a line each, as soon as it is known"],
  ],
  groups: PLAN_FLAGS,
  notes: [
    "--format list prints one item a line, to take along;",
    "--format html makes a page to print.",
    "",
    "Examples:",
    "  barrowmix shop plan.yaml --format list",
    "  barrowmix shop plan.yaml herbs.yaml --budget 250",
    "  barrowmix solve --json plan.yaml | barrowmix shop - --format csv",
    "  barrowmix shop beds/*.yaml --ndjson      (each bed by itself)",
    "",
    "Exit codes: 0 a purchase, proven or with its gap stated; 2 bad input;",
    "3 no mix or purchase fits; 4 not verified; of several plans apart the highest.",
  ],

  run: ([plans], options, context) =>
    answered(plans, options, context, COLUMNS, async (solution) => ({
      report: async (extent) =>
        (await import("../report/shop-report.ts")).shopReport(solution, extent, context.typed),
      text: async () => (await import("../report/shop-report.ts")).shopList(solution),
    })),
};

const packsIn = ({ purchases }: Solution): number =>
  purchases.flatMap(({ packs }) => packs).reduce((sum, { count }) => sum + count, 0);

const COLUMNS = [
  figures<Solution>(
    "Total",
    "total",
    ({ cost }) => cost.total,
    (total, { currency }) => money(total, currency),
  ),
  figures("Packs", "packs", packsIn, plainNumber),
];
