/** `sweep`: the cost and the mix of a plan along a range of one price, need, cap or share of seasons. */

import type { FileReader, PlanRequest } from "../files/load.ts";
import type { SweepRequest } from "../flow/sweep.ts";
import type { Plan } from "../model.ts";
import { NUTRIENT_NAMES, type Nutrient, nearestNutrient, readNutrient } from "../nutrients.ts";
import { fail, guess, ok, type Problem, problemOf, type Result } from "../problem.ts";
import type { ComparedBy } from "../results/comparison.ts";
import type { Sweep } from "../results/sweep.ts";
import { parsePriceChange, parseQuantity } from "../units.ts";
import { listed } from "../words/numbers.ts";
import { byFlags, comparedBy, searchOptions } from "./by-purchase.ts";
import {
  type Command,
  type CommandOutput,
  EXIT,
  type Options,
  textOption,
  textsOption,
  UsageError,
  unwrap,
} from "./command.ts";
import { askedPlan, PLAN_ALIASES, planFlagsBut } from "./plan-options.ts";
import { atPrices } from "./price-flags.ts";

const DEFAULT_STEPS = 20;
const MOST_STEPS = 100_000;
/** Each step by purchase is a search of its own. */
const MOST_PURCHASES = 1_000;

export const command: Command = {
  formats: ["ndjson"],
  aliases: PLAN_ALIASES,
  arguments: [["[plan]", "a plan file; - reads standard input"]],
  flags: [
    ["--price <id>", "sweep the price of an amendment; with =, another price as elsewhere", "repeated"],
    ["--need <nutrient>", "sweep the need of a nutrient over the season"],
    ["--cap <nutrient>", "sweep the cap on what is applied of a nutrient"],
    ["--sure <nutrients>", "sweep how sure needs are met: N or N,S; or a share, as elsewhere"],
    ["--from <value>", 'where to begin: "0.60/lb" or -30%; "3 lb" or "3 lb/acre"; 50%'],
    ["--to <value>", "where to end, written in the same way"],
    ["--steps <count>", `equal steps between the two (default: ${DEFAULT_STEPS})`],
    ...byFlags("by weight (usual), or at each step by purchase: whole packs and delivery"),
    ["--ndjson", "the same as --format ndjson: one value a line"],
  ],
  groups: planFlagsBut("--price", "--sure"),
  notes: [
    "A weight of a need or a cap is counted as the target counts it, for instance per",
    "acre. In JSON every value is SI: money per kg, or kg for the whole bed.",
    "  barrowmix sweep plan.yaml --price feather-meal --from -30% --to +60%",
    '  barrowmix sweep plan.yaml --need N --from "80 lb" --to "160 lb" --steps 40',
    '  barrowmix sweep plan.yaml --need N --from "80 lb" --to "160 lb" --by purchase',
    "  barrowmix sweep plan.yaml --sure N --from 50% --to 95% --steps 9",
  ],

  async run([planFile], given, context): Promise<CommandOutput> {
    const { sure: needs, ...rest } = given;
    // Names of nutrients are what to sweep; a share is how sure the plan is to be.
    const sureness = typeof needs === "string" && /^\s*[A-Za-z][^=]*$/.test(needs) ? needs : undefined;
    const options = sureness === undefined ? given : rest;
    const asked = await askedPlan(planFile, options, context);
    // A price with `=` is one to calculate with, without it the one to follow.
    const named = textsOption(options, "price");
    const swept = named.filter((text) => !text.includes("="));
    if (swept.length > 1) throw new UsageError(`sweep one price, not those of ${listed(swept)}`);
    const prices = { ...options, price: named.filter((text) => text.includes("=")) };
    const plan = await atPrices(asked.plan, prices, context);
    const by = comparedBy(options);
    const flags = { ...options, by, price: swept[0] };
    let found: Sweep;
    if (sureness === undefined) {
      const sweep = unwrap(await sweepRequest(plan, asked.request, flags, context.files));
      found = await followed(plan, sweep, by, options);
    } else {
      const { sureSweepRequest } = await import("./sweep-sure.ts");
      const sweep = unwrap(sureSweepRequest(plan, sureness, flags));
      found = await (await import("../flow/sweep-sure.ts")).sweepSureness(plan, sweep);
    }
    const nowhere = found.feasible === null;
    return {
      exitCode: nowhere ? EXIT.infeasible : EXIT.done,
      json: found,
      lines: found.points.map((point) => ({ what: found.what, unit: found.unit, ...point })),
      report: async () => (await import("../report/sweep-report.ts")).sweepReport(found),
      remarks: [found.understood, ...(nowhere ? ["No mix fits anywhere in this range."] : [])],
    };
  },
};

async function followed(plan: Plan, request: SweepRequest, by: ComparedBy, options: Options): Promise<Sweep> {
  if (by === "weight") return (await import("../flow/sweep.ts")).sweepPlan(plan, request);
  const { sweepPurchases } = await import("../flow/sweep-purchase.ts");
  return sweepPurchases(plan, request, searchOptions(options));
}

/** What the flags ask for, in SI. */
async function sweepRequest(
  plan: Plan,
  request: PlanRequest | null,
  options: Options,
  files: FileReader,
): Promise<Result<SweepRequest>> {
  const named = (["price", "need", "cap"] as const).filter((flag) => textOption(options, flag) !== undefined);
  const [flag] = named;
  if (flag === undefined || named.length > 1)
    throw new UsageError(
      `sweep one thing: ${named.length > 1 ? `not --${named.join(" and --")} at once but ` : ""}` +
        "--price <id>, --need <nutrient>, --cap <nutrient> or --sure <nutrients>",
    );
  const example = flag === "price" ? "--from -30% --to +60%" : '--from "3 lb" --to "6 lb"';
  const from = textOption(options, "from");
  const to = textOption(options, "to");
  if (from === undefined || to === undefined)
    throw new UsageError(`a sweep needs --from and --to, for instance ${example}`);
  const byPurchase = textOption(options, "by") === "purchase";
  const text = textOption(options, "steps");
  const steps = byPurchase ? stepsOf(text, MOST_PURCHASES, " by purchase") : stepsOf(text, MOST_STEPS);
  const what = textOption(options, flag)!;
  const ends =
    flag === "price"
      ? priceEnds(plan, what, from, to)
      : await amountEnds(plan, request, files, { flag, what, from, to });
  if (!ends.ok) return ends;
  if (!(ends.value.from < ends.value.to))
    throw new UsageError(`--from ${from} is not below --to ${to}; a sweep goes upwards`);
  // Whole numbers of amendments and least weights have no straight stretches to follow.
  const simple = plan.simple && !byPurchase ? " The plan's `simple` is ignored here." : "";
  // Along a margin the mix bends, and a sweep follows straight stretches.
  const sure =
    plan.sure && !byPurchase ? " How sure the plan asks to be is ignored here: needs count on average." : "";
  return ok({ ...ends.value, understood: `${ends.value.understood}${simple}${sure}`, steps });
}

export function stepsOf(text: string | undefined, most: number, why = ""): number {
  if (text === undefined) return DEFAULT_STEPS;
  const steps = Number(text.replaceAll(",", ""));
  if (!/^[\d,]+$/.test(text) || !Number.isSafeInteger(steps) || steps < 1 || steps > most)
    throw new UsageError(
      `--steps ${text}: this takes a whole number from 1 to ${most.toLocaleString("en-US")}${why}`,
    );
  return steps;
}

type Ends = Omit<SweepRequest, "steps">;

function priceEnds(plan: Plan, id: string, from: string, to: string): Result<Ends> {
  const amendment = plan.amendments.find((a) => a.id === id);
  if (!amendment) {
    const left = plan.leftOut.find((l) => l.id === id);
    const ids = plan.amendments.map((a) => a.id);
    const all = `there are ${ids.join(", ")}`;
    return fail({
      code: "amendment-unknown",
      message: left
        ? `--price: \`${id}\` is left out of the plan (${left.why})`
        : `--price: the plan has no amendment \`${id}\``,
      hint: left ? all : guess(id, ids, all),
    });
  }
  const prices = amendment.packs.map((pack) => pack.price / pack.sizeKg);
  if (amendment.bulkPricePerKg !== undefined) prices.push(amendment.bulkPricePerKg);
  const today = prices.length > 0 ? Math.min(...prices) : null;
  const problems: Problem[] = [];
  const end = (flag: string, text: string): number => {
    const read = parsePriceChange(text);
    if (!read.ok) problems.push(problemOf(read, { about: `--${flag}` }));
    else if (read.value.kind === "price") return read.value.pricePerKg;
    else if (read.value.kind === "pack") {
      const { size, price } = read.value;
      const kg = "kg" in size ? size.kg : size.litres * (amendment.densityKgPerL ?? Number.NaN);
      if (Number.isFinite(price / kg)) return price / kg;
      problems.push({
        code: "density-missing",
        message: `--${flag}: the pack is given by volume, and \`${id}\` has no density`,
        hint: "give its size as a weight, for instance `48/50 lb`",
      });
    } else if (today !== null) return today * read.value.factor;
    else
      problems.push({
        code: "amendment-not-for-sale",
        message: `--${flag}: \`${id}\` has no price to change`,
        hint: "give a price, for instance `1.20/lb`",
      });
    return 0;
  };
  const ends = { from: end("from", from), to: end("to", to) };
  if (problems.length > 0) return fail(...problems);
  return ok({
    handle: { kind: "price", id },
    ...ends,
    understood: `The price of ${amendment.name} goes from ${from} to ${to}${
      from.includes("%") || to.includes("%") ? ", counted from its cheapest price in the plan" : ""
    }; everything else stays.`,
  });
}

interface AmountFlags {
  readonly flag: "need" | "cap";
  readonly what: string;
  readonly from: string;
  readonly to: string;
}

/** Weights are counted as the target counts them, rates by the bed's area. */
async function amountEnds(
  plan: Plan,
  request: PlanRequest | null,
  files: FileReader,
  { flag, what, from, to }: AmountFlags,
): Promise<Result<Ends>> {
  const form = readNutrient(what);
  if (!form) {
    const near = nearestNutrient(what);
    return fail(
      problemOf(
        {
          code: "nutrient-unknown",
          given: what,
          wrong: "is no nutrient the program knows",
          near,
          hint: `nutrients are ${NUTRIENT_NAMES.join(", ")}`,
        },
        { about: `--${flag}` },
      ),
    );
  }
  const problems: Problem[] = [];
  let counted: "as the target counts it" | "by the area of the bed" | "for the whole bed" =
    "by the area of the bed";
  const end = async (name: string, text: string): Promise<number> => {
    const rate = parseQuantity(text, "rate");
    if (rate.ok && plan.bed.areaM2 !== undefined) return rate.value * plan.bed.areaM2 * form.factor;
    if (rate.ok) {
      problems.push({
        code: "bed-missing",
        message: `--${name} ${text}: the plan does not say how large the bed is`,
        hint: "add its `area`, or give --area",
      });
      return 0;
    }
    const mass = parseQuantity(text, "mass");
    if (!mass.ok) {
      problems.push(problemOf(mass, { about: `--${name}` }));
      return 0;
    }
    const each = await kgPerKg(request, files, flag, form.nutrient);
    if (each === "fixed") {
      problems.push({
        code: "unit-kind",
        message: `--${name} ${text}: the plan works its ${flag} of ${form.nutrient} out from a soil test, so that a weight alone says too little`,
        hint: "say it per area, for instance `3 lb/1000 sq ft`",
      });
      return 0;
    }
    counted = each === null ? "for the whole bed" : "as the target counts it";
    return mass.value * (each ?? 1) * form.factor;
  };
  const ends = { from: await end("from", from), to: await end("to", to) };
  if (problems.length > 0) return fail(...problems);
  const { weight } = await import("../words/numbers.ts");
  const bed = (kg: number): string => weight(kg, plan.units);
  const named = form.nutrient === what ? what : `${what} (as ${form.nutrient} in the mix)`;
  const start = flag === "need" ? `The need of ${named} over the season` : `The cap on ${named} applied`;
  return ok({
    handle: { kind: flag === "need" ? "need" : "applied-max", nutrient: form.nutrient },
    ...ends,
    understood:
      `${start} goes from ${from} to ${to}, ${counted}: ` +
      `${bed(ends.from)} to ${bed(ends.to)} of ${form.nutrient} in the whole bed. Everything else stays.`,
  });
}

/**
 * What one kg of a nutrient, written in the target, comes to in the whole bed: found by writing it there. Null where the
 * target does not say what such amounts are counted per; `fixed` where something else, such as a soil test, sets them.
 */
async function kgPerKg(
  request: PlanRequest | null,
  files: FileReader,
  flag: "need" | "cap",
  nutrient: Nutrient,
): Promise<number | null | "fixed"> {
  if (request === null)
    throw new UsageError(
      `--${flag}: what comes through the pipe no longer says how its target counts weights; name the plan file here`,
    );
  const { loadPlan } = await import("../files/load.ts");
  const field = flag === "need" ? "need" : "applied_max";
  const written = (name: string, amount: string): number | null => {
    const value = flag === "need" ? { min: amount } : amount;
    const override = { path: ["target", field, name], value, flag: `--${flag}` };
    const loaded = loadPlan(files, { ...request, overrides: [...(request.overrides ?? []), override] });
    if (!loaded.ok) return null;
    const demand = loaded.value.plan.demands.find((d) => d.nutrient === nutrient);
    return (flag === "need" ? demand?.minKg : demand?.appliedMaxKg) ?? null;
  };
  // The target may name the nutrient in another form, and must not name it twice.
  for (const name of NUTRIENT_NAMES.filter((n) => readNutrient(n)?.nutrient === nutrient)) {
    const one = written(name, "1 kg");
    const two = written(name, "2 kg");
    if (one === null || two === null) continue;
    return one > 0 && Math.abs(two - 2 * one) <= 1e-9 * two ? one / readNutrient(name)!.factor : "fixed";
  }
  return null;
}
