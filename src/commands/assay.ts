/** `assay`: what the mix a grower already makes contains, costs and delivers. */

import type { WeighedMix } from "../files/mix.ts";
import type { Plan } from "../model.ts";
import { BadInput } from "../problem.ts";
import { figures } from "../report/report.ts";
import type { Assay } from "../results/assay.ts";
import { plainNumber, weight } from "../words/numbers.ts";
import {
  type Command,
  type CommandOutput,
  type Context,
  clock,
  EXIT,
  type Options,
  textOption,
  textsOption,
  unwrap,
} from "./command.ts";
import { runEach } from "./many.ts";
import {
  asFlags,
  type FieldFlag,
  fieldsSet,
  filesOrUsual,
  numberOrText,
  STDIN,
  unitsOverride,
  where,
} from "./plan-options.ts";
import { amendmentsAtPrices, PRICE_FLAGS } from "./price-flags.ts";

const SPREAD_FLAGS: readonly FieldFlag[] = [
  ["--plants <count>", "over how many plants the mix is spread", ["spread", "plants"], numberOrText],
  [
    "--per-plant <amount>",
    'how much each plant gets a time: "0.5 cup"',
    ["spread", "per_plant"],
    numberOrText,
  ],
  ["--batches <count>", "how many batches are spread a time", ["spread", "batches"], numberOrText],
  ["--batch <size>", 'what one batch holds: "60 lb" or "3 cu ft"', ["batch"], numberOrText],
  ["--times <count>", "how often it is spread", ["spread", "times"], numberOrText],
];

export const command: Command = {
  formats: ["ndjson"],
  arguments: [
    [
      "[mixes...]",
      "mix files: `mix: {blood-meal: 20 lb, ...}` and `amendments: ...`; - reads standard input",
    ],
  ],
  flags: [
    ["--ndjson", "the same as --format ndjson: one mix a line"],
    [
      "--against <plan>",
      "hold the mix against a plan: what can be left out at no loss, what to add, then the smallest change; at the plan's prices",
    ],
    ["--amendments <file>", "amendments laid over those of the mix; may be repeated", "repeated"],
    ...PRICE_FLAGS,
    ...asFlags(SPREAD_FLAGS),
  ],
  notes: [
    "Where no mix is named, ./mix.yaml is taken.",
    "One barrow of 60 lb for 180 plants, three times in the season:",
    '  barrowmix assay mix.yaml --batch "60 lb" --batches 1 --plants 180 --times 3',
    "",
    "Exit codes: 0 done; 2 bad input; 4 not verified; of several mixes the highest.",
  ],

  run([mixes], options, context): Promise<CommandOutput> {
    return runEach<Assay>(
      filesOrUsual(mixes, "mix.yaml", context),
      context.flags,
      ([mix]) => assayOne(mix!, options, context),
      [
        figures(
          "Weight",
          "kg",
          ({ kg }) => kg,
          (kg, { units }) => weight(kg, units),
        ),
        ...(["N", "P2O5", "K2O"] as const).map((nutrient) =>
          figures<Assay>(
            nutrient,
            `${nutrient.toLowerCase()}_percent`,
            ({ analysis }) => analysis[nutrient] ?? 0,
            plainNumber,
          ),
        ),
      ],
    );
  },
};

async function assayOne(mixFile: string, options: Options, context: Context): Promise<CommandOutput> {
  const { loadMix, loadPlan } = await import("../files/load.ts");
  const at = where(context);
  const { files } = context;
  const overrides = unitsOverride(context);
  const loaded = loadMix(files, mixFile, {
    ...at,
    overrides: [...fieldsSet(SPREAD_FLAGS, options), ...overrides],
    extraAmendments: textsOption(options, "amendments"),
  });
  const planFile = textOption(options, "against");
  const plans = planFile === undefined ? [] : [loadPlan(files, { ...at, planFile, overrides })];
  const problems = [loaded, ...plans].flatMap((result) => (result.ok ? [] : result.problems));
  if (problems.length > 0) throw new BadInput(problems);
  const { mix, warnings } = unwrap(loaded);
  const [plan] = plans.map((one) => unwrap(one).plan);
  const { assayMix } = await import("../flow/assay.ts");
  const { portions, against } = await pricedMix(mix, plan, options, context);
  const name = mix.name === STDIN ? "the mix" : mix.name;
  const assay = unwrap(await assayMix({ ...mix, name, portions }, against, { clock }));
  const value = { ...assay, warnings: [...warnings, ...assay.warnings] };
  return {
    exitCode: EXIT.done,
    json: value,
    report: async (extent) => (await import("../report/assay-report.ts")).assayReport(value, extent),
    remarks: [...value.cautions, ...value.warnings].map(({ text }) => text),
  };
}

/** What the mix is made of, and the plan it is held against, at the prices that the flags ask for. */
async function pricedMix(
  { portions }: WeighedMix,
  plan: Plan | undefined,
  options: Options,
  context: Context,
): Promise<{ readonly portions: WeighedMix["portions"]; readonly against: Plan | undefined }> {
  const idsOf = (amendments: readonly { readonly id: string }[]): string[] => amendments.map(({ id }) => id);
  const inPlan = plan ? [...idsOf(plan.amendments), ...idsOf(plan.leftOut)] : [];
  const mixed = portions.map(({ amendment }) => amendment);
  const own = await amendmentsAtPrices(mixed, inPlan, options, context);
  const known = [...inPlan, ...idsOf(mixed)];
  return {
    portions: portions.map((portion, k) => ({ ...portion, amendment: own[k]! })),
    against: plan && {
      ...plan,
      amendments: await amendmentsAtPrices(plan.amendments, known, options, context),
    },
  };
}
