/** `--price` and `--prices`: other prices for what a command works with, beside those of the files. */
import type { DecimalSign } from "../files/price-list.ts";
import type { ChangedPlan, Choice } from "../flow/changes.ts";
import type { PriceList } from "../flow/price-lists.ts";
import type { Amendment, Plan } from "../model.ts";
import { faultText, type Notice } from "../problem.ts";
import { type PriceChange, parsePriceChange } from "../units.ts";
import { listed } from "../words/numbers.ts";
import {
  type Context,
  type Flag,
  type Options,
  textOption,
  textsOption,
  UsageError,
  unwrap,
} from "./command.ts";

/** Flags with other prices for what a command works with. */
export const PRICE_FLAGS: readonly Flag[] = [
  [
    "--price <id=price>",
    'another price: "bone-meal=+10%", "bone-meal=1.20/lb", "bone-meal=48/50 lb", "bone-meal=48/50 lb from mill"; may be repeated',
    "repeated",
  ],
  ["--decimal <sign>", "how price lists write decimals: point (1,500.25) or comma (1.500,25)"],
  ["--prices <list>", "prices from a list (CSV: id,size,price,supplier): what it names is sold so alone"],
];

const EXAMPLE = "for instance --price bone-meal=+10%, bone-meal=1.20/lb or bone-meal=48/50 lb";

/**
 * Reads the values of `--price`, in their order.
 * @param where put before each message.
 * @throws UsageError for one that cannot be read.
 */
export function priceChanges(texts: readonly string[], where = ""): Record<string, PriceChange[]> {
  const changes = new Map<string, PriceChange[]>();
  for (const text of texts) {
    const at = text.indexOf("=");
    const id = text.slice(0, Math.max(0, at)).trim();
    if (at < 0 || id === "")
      throw new UsageError(`${where}--price ${text}: write an id, \`=\` and the change, ${EXAMPLE}`);
    const read = parsePriceChange(text.slice(at + 1).replace(/^=/, ""));
    if (!read.ok) throw new UsageError(`${where}--price ${text}: ${faultText(read)}`);
    changes.set(id, [...(changes.get(id) ?? []), read.value]);
  }
  return Object.fromEntries(changes);
}

/** What `--decimal` says of the numbers in price lists; undefined where it was not given. */
export function decimalOf(options: Options): DecimalSign | undefined {
  const sign = textOption(options, "decimal");
  if (sign === undefined || sign === "point" || sign === "comma") return sign;
  throw new UsageError(`--decimal ${sign}: this takes \`point\` or \`comma\``);
}

/** The price list of a file, read. */
export async function priceListOf(file: string, options: Options, { world }: Context): Promise<PriceList> {
  const { loadPriceList } = await import("../files/price-list.ts");
  return { file, rows: unwrap(loadPriceList(world.files, file, world.cwd, decimalOf(options))) };
}

/** Whether the flags ask for other prices. */
export function asksForPrices(options: Options): boolean {
  return textOption(options, "prices") !== undefined || textsOption(options, "price").length > 0;
}

/** A choice at the prices that the flags ask for, the list first. */
async function chosenAt<C extends Choice>(
  choice: C,
  options: Options,
  context: Context,
): Promise<ChangedPlan<C>> {
  if (!asksForPrices(options)) return { plan: choice, notes: [] };
  const file = textOption(options, "prices");
  const list = file === undefined ? null : await priceListOf(file, options, context);
  const changes = priceChanges(textsOption(options, "price"));
  const { changePlan } = await import("../flow/changes.ts");
  const { applyPriceList } = await import("../flow/price-lists.ts");
  const atList: ChangedPlan<C> = list
    ? unwrap(applyPriceList(choice, list, false))
    : { plan: choice, notes: [] };
  const changed = unwrap(changePlan(atList.plan, { price: changes, without: [] }, "--price"));
  const left = (atList.unlisted ?? []).filter((id) => !Object.hasOwn(changes, id));
  const kept = `The price list does not have these; they keep the plan's prices: ${listed(left)}.`;
  return {
    plan: changed.plan,
    notes: [...atList.notes, ...(left.length > 0 ? [kept] : []), ...changed.notes],
  };
}

/** The plan at the prices that the flags ask for; what a reader should know is in its warnings. */
export async function atPrices(plan: Plan, options: Options, context: Context): Promise<Plan> {
  const changed = await chosenAt(plan, options, context);
  const notices = changed.notes.map((text): Notice => ({ code: "prices-changed", text }));
  return { ...changed.plan, warnings: [...plan.warnings, ...notices] };
}

/**
 * Amendments at the prices that the flags ask for, where a command has no plan for them.
 * @param elsewhere ids that are known though they are not among the amendments.
 */
export async function amendmentsAtPrices(
  amendments: readonly Amendment[],
  elsewhere: readonly string[],
  options: Options,
  context: Context,
): Promise<readonly Amendment[]> {
  const own = new Set(amendments.map(({ id }) => id));
  const leftOut = elsewhere.filter((id) => !own.has(id)).map((id) => ({ id, why: "not in only" as const }));
  const choice: Choice = { amendments, leftOut, limits: [], suppliers: [] };
  return (await chosenAt(choice, options, context)).plan.amendments;
}
