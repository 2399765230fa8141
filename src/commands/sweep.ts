/** `sweep`: the cost and the mix of a plan along a range of one price, need, cap or share of seasons. */

import type { AnswerOptions } from "../flow/answer.ts";
import type { SweepRequest } from "../flow/sweep.ts";
import type { Plans } from "../flow/whatif.ts";
import type { Plan } from "../model.ts";
import { NUTRIENT_NAMES, type Nutrient, nearestNutrient, readNutrient } from "../nutrients.ts";
import { defined } from "../optional.ts";
import { allOf, fail, guess, ok, type Problem, problemOf, type Result } from "../problem.ts";
import { cheapestPricePerKg } from "../program/build.ts";
import type { Sweep } from "../results/sweep.ts";
import { parsePriceChange, parseQuantity } from "../units.ts";
import { listed, weight } from "../words/numbers.ts";
import { chancePercent } from "../words/sure-words.ts";
import { BY_FLAG, byOption, searchOptions, TIME_FLAG } from "./answer.ts";
import {
  type Command,
  type CommandOutput,
  EXIT,
  numberOf,
  type Options,
  textOption,
  textsOption,
  together,
  UsageError,
  unwrap,
} from "./command.ts";
import { givenPlans, PLAN_ALIASES, type PlanAgain, planFlagsBut } from "./plan-options.ts";
import { atPrices } from "./price-flags.ts";

const DEFAULT_STEPS = 20;
const MOST_STEPS = 100_000;
/** Each step by purchase, and each of sureness, is a search of its own. */
const MOST_SEARCHES = 1_000;

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
    BY_FLAG,
    TIME_FLAG,
    ["--ndjson", "the same as --format ndjson: one value a line"],
  ],
  groups: planFlagsBut("--price", "--sure"),
  notes: [
    "A weight of a need or a cap is counted as the target counts it, for instance per",
    "acre. In JSON every value is SI: money per kg, or kg for the whole bed.",
    "  barrowmix sweep plan.yaml --price feather-meal --from -30% --to +60%",
    '  barrowmix sweep plan.yaml --need N --from "80 lb" --to "160 lb" --steps 40',
    '  barrowmix sweep plan.yaml --need N --from "80 lb" --to "160 lb" --by weight',
    "  barrowmix sweep plan.yaml --sure N --from 50% --to 95% --steps 9",
  ],

  async run([planFile], given, context): Promise<CommandOutput> {
    const { sure: needs, ...rest } = given;
    // Names of nutrients are what to sweep; a share is how sure the plan is to be.
    const sureness = typeof needs === "string" && /^\s*[A-Za-z][^=]*$/.test(needs) ? needs : undefined;
    const options = sureness === undefined ? given : rest;
    const files = planFile === undefined ? [] : [String(planFile)];
    const { plans, before } = await givenPlans(files, options, context);
    // A price with `=` is one to calculate with, without it the one to follow.
    const named = textsOption(options, "price");
    const followed = named.filter((text) => !text.includes("="));
    if (followed.length > 1) throw new UsageError(`sweep one price, not those of ${listed(followed)}`);
    const prices = { ...options, price: named.filter((text) => text.includes("=")) };
    const [first, ...others] = await together(plans.map(({ plan }) => atPrices(plan, prices)));
    const by = byOption(options) ?? "purchase";
    if (others.length > 0 && (followed.length === 0 || by === "weight"))
      throw new UsageError(
        "of several beds sweep follows one price, by purchase; for a need, a cap or sureness name the plan of one bed, or compare changes with `whatif`",
      );
    const flags = { ...options, by, price: followed[0] };
    const asked: Swept = { plans: [first!, ...others], again: plans[0].again, before };
    const found = unwrap(
      await (sureness === undefined ? sweptNumber(asked, flags) : sweptSureness(first!, sureness, flags)),
    );
    const nowhere = found.feasible === null;
    return {
      exitCode: nowhere ? EXIT.infeasible : EXIT.done,
      json: found,
      lines: found.points.map((point) => ({
        schema: found.schema,
        by: found.by,
        what: found.what,
        unit: found.unit,
        ...point,
      })),
      report: async () => (await import("../report/sweep-report.ts")).sweepReport(found),
      remarks: [found.understood, ...(nowhere ? ["No mix fits anywhere in this range."] : [])],
    };
  },
};

const NUMBERS = ["price", "need", "cap"] as const;

interface Swept {
  readonly plans: Plans;
  readonly again: PlanAgain | null;
  readonly before: AnswerOptions;
}

/** Follows a price, a need or a cap. */
async function sweptNumber({ plans, again, before }: Swept, options: Options): Promise<Result<Sweep>> {
  const [plan] = plans;
  const named = NUMBERS.filter((flag) => textOption(options, flag) !== undefined);
  const [flag] = named;
  if (flag === undefined || named.length > 1)
    throw new UsageError(
      `sweep one thing: ${named.length > 1 ? `not --${named.join(" and --")} at once but ` : ""}` +
        "--price <id>, --need <nutrient>, --cap <nutrient> or --sure <nutrients>",
    );
  const texts = endTexts(options, flag === "price" ? "--from -30% --to +60%" : '--from "3 lb" --to "6 lb"');
  const byPurchase = options.by === "purchase";
  const steps = byPurchase ? stepsOf(options, MOST_SEARCHES, " by purchase") : stepsOf(options, MOST_STEPS);
  const what = textOption(options, flag)!;
  const ends = flag === "price" ? priceEnds(plans, what, texts) : amountEnds(plan, again, flag, what, texts);
  if (!ends.ok) return ends;
  checkRising(ends.value, texts);
  // Whole numbers of amendments and least weights have no straight stretches to follow.
  const simple = byPurchase ? "" : simpleIgnored(plan);
  // Along a margin the mix bends, and a sweep follows straight stretches.
  const sure =
    plan.sure && !byPurchase ? " How sure the plan asks to be is ignored here: needs count on average." : "";
  const request = { ...ends.value, understood: `${ends.value.understood}${simple}${sure}`, steps };
  if (!byPurchase) return ok(await (await import("../flow/sweep.ts")).sweepPlan(plan, request));
  const { sweepPurchases } = await import("../flow/sweep-purchase.ts");
  return ok(await sweepPurchases(plans, request, { ...before, ...searchOptions(options) }));
}

/** Both ends of a range: as they were written, or read. */
interface Ends<T> {
  readonly from: T;
  readonly to: T;
}

function endTexts(options: Options, example: string): Ends<string> {
  const from = textOption(options, "from");
  const to = textOption(options, "to");
  if (from === undefined || to === undefined)
    throw new UsageError(`a sweep needs --from and --to, for instance ${example}`);
  return { from, to };
}

function readEnds(
  { from, to }: Ends<string>,
  read: (flag: string, text: string) => Result<number>,
): Result<Ends<number>> {
  const ends = allOf([read("--from", from), read("--to", to)]);
  return ends.ok ? ok({ from: ends.value[0]!, to: ends.value[1]! }) : ends;
}

function checkRising(ends: Ends<number>, shown: Ends<string>): void {
  if (!(ends.from < ends.to))
    throw new UsageError(`--from ${shown.from} is not below --to ${shown.to}; a sweep goes upwards`);
}

function stepsOf(options: Options, most: number, why = ""): number {
  const text = textOption(options, "steps");
  if (text === undefined) return DEFAULT_STEPS;
  const steps = numberOf("--steps", text, "a number of steps", { example: "20" });
  if (!Number.isSafeInteger(steps) || steps < 1 || steps > most)
    throw new UsageError(
      `--steps ${text}: this takes a whole number from 1 to ${most.toLocaleString("en-US")}${why}`,
    );
  return steps;
}

function simpleIgnored(plan: Plan): string {
  return plan.simple ? " The plan's `simple` is ignored here." : "";
}

function unknownNutrient(flag: string, name: string, hint: string): Problem {
  const fault = {
    code: "nutrient-unknown",
    given: name,
    wrong: "is no nutrient the program knows",
    near: nearestNutrient(name),
    hint,
  };
  return problemOf(fault, { about: flag });
}

type Asked = Omit<SweepRequest, "steps">;

function priceEnds(plans: Plans, id: string, texts: Ends<string>): Result<Asked> {
  const amendments = plans.flatMap((plan) => plan.amendments);
  const amendment = amendments.find((a) => a.id === id);
  if (!amendment) {
    const left = plans.flatMap(({ leftOut }) => leftOut).find((l) => l.id === id);
    const ids = [...new Set(amendments.map((a) => a.id))];
    const all = `there are ${ids.join(", ")}`;
    return fail({
      code: "amendment-unknown",
      message: left
        ? `--price: \`${id}\` is left out of the plan (${left.why})`
        : `--price: the plan has no amendment \`${id}\``,
      hint: left ? all : guess(id, ids, all),
    });
  }
  const today = cheapestPricePerKg(amendment);
  const ends = readEnds(texts, (flag, text) => {
    const read = parsePriceChange(text);
    if (!read.ok) return fail(problemOf(read, { about: flag }));
    const change = read.value;
    if (change.kind === "price") return ok(change.pricePerKg);
    if (change.kind === "pack") {
      const { size, price } = change;
      const perKg = price / ("kg" in size ? size.kg : size.litres * (amendment.densityKgPerL ?? Number.NaN));
      if (Number.isFinite(perKg)) return ok(perKg);
      return fail({
        code: "density-missing",
        message: `${flag}: the pack is given by volume, and \`${id}\` has no density`,
        hint: "give its size as a weight, for instance `48/50 lb`",
      });
    }
    if (today !== null) return ok(today * change.factor);
    return fail({
      code: "amendment-not-for-sale",
      message: `${flag}: \`${id}\` has no price to change`,
      hint: "give a price, for instance `1.20/lb`",
    });
  });
  if (!ends.ok) return ends;
  const { from, to } = texts;
  const counted =
    from.includes("%") || to.includes("%") ? ", counted from its cheapest price in the plan" : "";
  return ok({
    handle: { kind: "price", id },
    ...ends.value,
    understood: `The price of ${amendment.name} goes from ${from} to ${to}${counted}; everything else stays.`,
  });
}

/** Weights are counted as the target counts them, rates by the bed's area. */
function amountEnds(
  plan: Plan,
  again: PlanAgain | null,
  flag: "need" | "cap",
  what: string,
  texts: Ends<string>,
): Result<Asked> {
  const form = readNutrient(what);
  if (!form) return fail(unknownNutrient(`--${flag}`, what, `nutrients are ${NUTRIENT_NAMES.join(", ")}`));
  const { nutrient, factor } = form;
  let counted = "by the area of the bed";
  const ends = readEnds(texts, (end, text) => {
    const rate = parseQuantity(text, "rate");
    if (rate.ok && plan.bed.areaM2 !== undefined) return ok(rate.value * plan.bed.areaM2 * factor);
    if (rate.ok)
      return fail({
        code: "bed-missing",
        message: `${end} ${text}: the plan does not say how large the bed is`,
        hint: "add its `area`, or give --area",
      });
    const mass = parseQuantity(text, "mass");
    if (!mass.ok) return fail(problemOf(mass, { about: end }));
    const each = kgPerKg(again, flag, nutrient);
    if (each === "fixed")
      return fail({
        code: "unit-kind",
        message: `${end} ${text}: the plan works its ${flag} of ${nutrient} out from a soil test, so that a weight alone says too little`,
        hint: "say it per area, for instance `3 lb/1000 sq ft`",
      });
    counted = each === null ? "for the whole bed" : "as the target counts it";
    return ok(mass.value * (each ?? 1) * factor);
  });
  if (!ends.ok) return ends;
  const [from, to] = [ends.value.from, ends.value.to].map((kg) => weight(kg, plan.units));
  const named = nutrient === what ? what : `${what} (as ${nutrient} in the mix)`;
  const start = flag === "need" ? `The need of ${named} over the season` : `The cap on ${named} applied`;
  return ok({
    handle: { kind: flag === "need" ? "need" : "applied-max", nutrient },
    ...ends.value,
    understood:
      `${start} goes from ${texts.from} to ${texts.to}, ${counted}: ` +
      `${from} to ${to} of ${nutrient} in the whole bed. Everything else stays.`,
  });
}

/**
 * What one kg of a nutrient, written in the target, comes to in the whole bed: found by writing it there. Null where the
 * target does not say what such amounts are counted per; `fixed` where something else, such as a soil test, sets them.
 */
function kgPerKg(again: PlanAgain | null, flag: "need" | "cap", nutrient: Nutrient): number | null | "fixed" {
  if (again === null)
    throw new UsageError(
      `--${flag}: what comes through the pipe no longer says how its target counts weights; name the plan file here`,
    );
  const field = flag === "need" ? "need" : "applied_max";
  const written = (name: string, amount: string): number | null => {
    const value = flag === "need" ? { min: amount } : amount;
    const loaded = again([{ path: ["target", field, name], value, flag: `--${flag}` }]);
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

const SURENESS = { least: 0.5, most: 0.999 } as const;

/** Sweeps how sure needs are met; `names` are nutrients, or `all` that the plan needs. */
async function sweptSureness(plan: Plan, names: string, options: Options): Promise<Result<Sweep>> {
  for (const flag of NUMBERS)
    if (textOption(options, flag) !== undefined)
      throw new UsageError(`sweep one thing: not --sure and --${flag} at once`);
  const needs = neededNutrients(plan, names);
  if (!needs.ok) return needs;
  const nutrients = needs.value;
  const texts = endTexts(options, "--from 50% --to 95%");
  const ends = readEnds(texts, (flag, text) => {
    const read = parseQuantity(text, "share");
    if (!read.ok) return fail(problemOf(read, { about: flag }));
    if (read.value >= SURENESS.least - 1e-12 && read.value <= SURENESS.most + 1e-12) return ok(read.value);
    return fail({
      code: "number-range",
      message: `${flag} ${text}: a share of seasons is swept from 50% to 99.9%`,
      hint: "a mix that just meets a need on average meets it in 5 seasons of 10",
    });
  });
  if (!ends.ok) return ends;
  const [from, to] = [chancePercent(ends.value.from), chancePercent(ends.value.to)];
  checkRising(ends.value, { from, to });
  const steps = stepsOf(options, MOST_SEARCHES, " of sureness");
  const alone = nutrients.length > 1 ? ", each by itself," : "";
  const understood = `The share of seasons that meet ${listed(nutrients)}${alone} goes from ${from} to ${to}; all else stays.${surenessKept(plan, nutrients)}${simpleIgnored(plan)}`;
  const request = { nutrients, ...ends.value, steps, understood };
  const { sweepSureness } = await import("../flow/sweep-purchase.ts");
  const by = byOption(options);
  return ok(await sweepSureness(plan, request, { ...defined({ by }), ...searchOptions(options) }));
}

function surenessKept({ sure }: Plan, swept: readonly Nutrient[]): string {
  const others = (sure?.each ?? []).filter(({ nutrient }) => !swept.includes(nutrient));
  const together = sure?.together;
  const asked = [
    ...others.map(({ nutrient, p }) => `${nutrient} at ${chancePercent(p)}`),
    ...(together ? [`${listed(together.nutrients)} together at ${chancePercent(together.p)}`] : []),
  ];
  const stay = asked.length === 1 && together === undefined ? "stays" : "stay";
  return asked.length === 0 ? "" : ` ${asked.join("; ")} ${stay} as the plan asks.`;
}

function neededNutrients(plan: Plan, names: string): Result<readonly Nutrient[]> {
  const needed = plan.demands.flatMap(({ nutrient, minKg }) => (minKg > 0 ? [nutrient] : []));
  if (names.trim().toLowerCase() === "all" && needed.length > 0) return ok(needed);
  const named = names.split(/[\s,]+/).filter((part) => part !== "");
  const read = named.map((name): Result<Nutrient> => {
    const nutrient = readNutrient(name)?.nutrient;
    const hint = `name needs of the plan (${needed.join(", ")}), or a share of seasons such as 90%`;
    if (nutrient === undefined) return fail(unknownNutrient("--sure", name, hint));
    if (needed.includes(nutrient)) return ok(nutrient);
    return fail({
      code: "choice-unknown",
      message: `--sure: the plan has no need of ${nutrient} to be sure of`,
      hint: `it needs ${needed.length > 0 ? needed.join(", ") : "nothing"}`,
    });
  });
  const found = allOf(read);
  return found.ok ? ok([...new Set(found.value)]) : found;
}
