/** `solve`: the answer to a plan: what to buy, what to mix, what to give, how sure. */
import { figures, paragraph, words } from "../report/report.ts";
import type { Solution } from "../results/solution.ts";
import { money, weight } from "../words/numbers.ts";
import { ANSWER_FLAGS, answered } from "./answer.ts";
import { type Command, textOption } from "./command.ts";
import { PLAN_ALIASES, PLAN_FLAGS, planOverrides } from "./plan-options.ts";
import { saveSeason } from "./save-season.ts";

export const command: Command = {
  formats: ["ndjson", "list"],
  aliases: PLAN_ALIASES,
  arguments: [["[plans...]", "plan files, which share one shed and one purchase; - reads standard input"]],
  flags: [
    ...ANSWER_FLAGS,
    ["--ndjson", "the same as --format ndjson: each plan apart, a line each, as soon as it is known"],
    ["--save <season.yaml>", "begin a season: what was decided, in weights, to be logged from here on"],
    ["--chart", "draw supply against need over the season"],
  ],
  groups: PLAN_FLAGS,
  notes: [
    "Where no plan is named, ./plan.yaml is used. Without a plan, use flags:",
    "  barrowmix solve --amendments amendments.yaml --recipe pepper --plants 240 \\",
    '    --area "1500 sq ft" --batch "60 lb"',
    '  barrowmix solve --recipe pepper --area "1500 sq ft" \\',
    '    --have "feather-meal@44/50 lb" --have "poultry-pellets@18/50 lb" \\',
    '    --have "potassium-sulfate@46/50 lb"',
    "Several plans share one shed and one purchase, each with its own mix:",
    "  barrowmix solve beds/*.yaml",
    "Each by itself, one line of JSON each, a bad one among them or not:",
    "  barrowmix solve beds/*.yaml --ndjson",
    "",
    "Exit codes: 0 an answer, proven or with its gap stated; 2 bad input;",
    "3 no mix or purchase fits; 4 not verified; of several plans apart the highest.",
  ],

  run: ([plans], options, context) =>
    answered(plans, options, context, COLUMNS, async (solution, files) => {
      const save = textOption(options, "save");
      const saved =
        save === undefined
          ? []
          : [await saveSeason(solution, files, save, await planOverrides(options, context), context)];
      return {
        report: async (extent) => {
          const { solutionReport } = await import("../report/solution-report.ts");
          const report = solutionReport(solution, extent, context.typed);
          return { ...report, closing: [...(report.closing ?? []), ...saved.map((said) => paragraph(said))] };
        },
        text: async () => (await import("../report/shop-report.ts")).shopList(solution),
      };
    }),
};

const COLUMNS = [
  words<Solution>("Plan", "plan", ({ name }) => name),
  figures<Solution>(
    "Cost",
    "cost",
    ({ cost }) => cost.total,
    (total, { currency }) => money(total, currency),
  ),
  figures<Solution>(
    "Weight",
    "weight_kg",
    ({ mixes, status }) => (status === "infeasible" ? null : mixes.reduce((sum, { kg }) => sum + kg, 0)),
    (kg, { units }) => weight(kg, units),
  ),
];
