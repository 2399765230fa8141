/** `topup`: what a heavy rain may have taken, and what would replace it. */

import { dayOfDate, looksLikeDate, parseDate } from "../calendar.ts";
import type { Amounts } from "../field/delivery.ts";
import type { BoughtMixes } from "../flow/bought.ts";
import type { Plan } from "../model.ts";
import { faultText } from "../problem.ts";
import type { Rain } from "../results/topup.ts";
import { parseDay, parseQuantity, type Quantity } from "../units.ts";
import { askedMix, BOUGHT_FLAGS, remarksOf, solvedAlone, withoutMix, withoutPurchase } from "./buying.ts";
import {
  type Command,
  type CommandOutput,
  clock,
  EXIT,
  type Options,
  textOption,
  UsageError,
} from "./command.ts";
import { PLAN_ALIASES, PLAN_FLAGS } from "./plan-options.ts";

/** A loam, and where most roots of vegetables are. */
const DEFAULTS = { soilWater: "25%", depth: "30 cm", evaporation: "0 mm", mixedTo: "0 cm" } as const;
/** No soil drains outside of these. */
const SOIL_WATER = { least: 0.05, most: 0.6 } as const;

const columns = async (units: "us" | "metric") =>
  (await import("../report/topup-report.ts")).topUpColumns(units);

export const command: Command = {
  aliases: PLAN_ALIASES,
  arguments: [["[plan]", "a plan file, or a purchase of `shop --save`; - reads standard input"]],
  flags: [
    ["--rain <depth>", 'how much fell: "4 in" or "100 mm"'],
    ["--on <day>", "on which day from planting: 30; or a date, where the plan has `planted`"],
    ["--soil-water <share>", `water the soil holds at field capacity (default ${DEFAULTS.soilWater})`],
    ["--depth <depth>", `what goes deeper is lost to the crop (default "${DEFAULTS.depth}")`],
    ["--evaporation <depth>", "rain that did not drain: evaporated, or soaked up by dry soil"],
    ["--mixed-to <depth>", "how deep the nitrate is mixed in (default: it lies on the surface)"],
    ...BOUGHT_FLAGS,
  ],
  groups: PLAN_FLAGS,
  notes: [
    "Sand holds about 12%, loam 25%, clay 40% of water at field capacity (common",
    "practice, no source).",
  ],

  async run([planFile], options, context): Promise<CommandOutput> {
    const asked = await askedMix(planFile, options, context);
    if (asked.kind === "nothing") return withoutPurchase(asked.shopping, columns);
    const { plan, amounts }: Spread = asked.kind === "bought" ? await spreadOf(asked.bought) : asked;
    const rain = rainOf(options, plan.planted);
    if (!(rain.day > plan.applications[0]!.day && rain.day < plan.seasonDays))
      throw new UsageError(
        `--on ${rain.day}: the plan runs from day ${plan.applications[0]!.day} to day ${plan.seasonDays}; name a day between`,
      );
    const { topUp } = await import("../flow/topup.ts");
    const found = await topUp(plan, rain, amounts, { clock });
    if (found === null) return withoutMix(await solvedAlone(plan, context), columns);
    return {
      exitCode: EXIT.done,
      json: found,
      report: async (extent) =>
        (await import("../report/topup-report.ts")).topUpReport(found, plan.scaleKg, extent),
      remarks: remarksOf(found),
    };
  },
};

interface Spread {
  readonly plan: Plan;
  readonly amounts?: Amounts;
}

/** What a purchase has spread on the one bed that it is for, and the plan with what is left of it in the shed. */
async function spreadOf(bought: BoughtMixes): Promise<Spread> {
  const [plan, other] = bought.plans;
  if (other !== undefined || bought.application !== null)
    throw new UsageError(
      "topup works for one plan and its whole season, and this purchase is not for that; name the plan file",
    );
  const { leftInShed, spreadBy } = await import("../flow/bought.ts");
  return { plan: leftInShed(plan!, bought), amounts: spreadBy(plan!, bought) };
}

function taken(flag: string, read: Quantity): number {
  if (!read.ok) throw new UsageError(`${flag}: ${faultText(read)}`);
  return read.value;
}

/** A depth; the hint speaks of rain and roots, and not of rows as for other lengths. */
function depth(text: string): Quantity {
  const read = parseQuantity(text, "length");
  return read.ok ? read : { ...read, hint: "write a depth with its unit, for instance `4 in` or `100 mm`" };
}

/** A day counted from planting, or a date in a plan that says when it was planted. */
function dayOn(text: string, planted: string | undefined): number {
  if (!looksLikeDate(text)) return taken("--on", parseDay(text));
  const date = parseDate(text);
  if (date === null)
    throw new UsageError(`--on: \`${text}\` is not a date; write \`2027-06-12\` or \`June 12\``);
  if (planted === undefined)
    throw new UsageError(
      "--on: a date needs a plan that says when the crop was planted: add `planted: 2027-05-20`, or count days from planting",
    );
  return dayOfDate(date, planted);
}

function rainOf(options: Options, planted: string | undefined): Rain {
  const needed = (name: string, example: string): string => {
    const text = textOption(options, name);
    if (text === undefined) throw new UsageError(`topup needs --${name}, for instance --${name} ${example}`);
    return text;
  };
  const given = (name: keyof typeof DEFAULTS): string => textOption(options, name) ?? DEFAULTS[name];
  const [fell, on] = [needed("rain", '"4 in"'), needed("on", "30")];
  const rain: Rain = {
    rainM: taken("--rain", depth(fell)),
    day: dayOn(on, planted),
    soilWater: taken("--soil-water", parseQuantity(given("soilWater"), "share")),
    depthM: taken("--depth", depth(given("depth"))),
    evaporationM: taken("--evaporation", depth(given("evaporation"))),
    mixedToM: taken("--mixed-to", depth(given("mixedTo"))),
  };
  if (rain.soilWater < SOIL_WATER.least || rain.soilWater > SOIL_WATER.most)
    throw new UsageError("--soil-water: soils hold between 5% and 60% of water at field capacity");
  if (!(rain.depthM > 0))
    throw new UsageError('--depth: name the depth of the roots, for instance --depth "30 cm"');
  if (rain.mixedToM > rain.depthM)
    throw new UsageError(
      "--mixed-to is deeper than --depth; what is mixed in below the roots is lost already",
    );
  return rain;
}
