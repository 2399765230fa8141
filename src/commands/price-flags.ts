/** `--price` and `--prices`: other prices for what a command works with, beside those of the files. */
import type { ExtraPrices } from "../files/plan-prices.ts";
import type { DecimalSign } from "../files/price-cells.ts";
import type { PriceList } from "../files/price-list.ts";
import type { ChangedPlan, Choice } from "../flow/changes.ts";
import type { Amendment, Plan } from "../model.ts";
import { defined } from "../optional.ts";
import { faultText, type Notice } from "../problem.ts";
import { type PriceChange, parsePriceChange } from "../units.ts";
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
  [
    "--prices <file>",
    "a store's price list (CSV: id or name, size, price, supplier), beside those of the plan: what lists name is sold so alone; may be repeated",
    "repeated",
  ],
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

/** The price lists that the flags put beside those of a plan. */
export function extraPrices(options: Options): ExtraPrices[] {
  const decimal = decimalOf(options);
  return textsOption(options, "prices").map((file) => ({ file, ...defined({ decimal }) }));
}

/** The price list of a file, read. */
export async function priceListOf(file: string, options: Options, context: Context): Promise<PriceList> {
  const { world, files } = context;
  const { loadPriceList } = await import("../files/load.ts");
  const where = { cwd: world.cwd, recipesDir: "" };
  return unwrap(loadPriceList(files, file, where, decimalOf(options)));
}

/** A choice with the price lists of the flags laid over its prices, for what was read without them. */
export async function atLists<C extends Choice>(
  choice: C,
  options: Options,
  context: Context,
): Promise<ChangedPlan<C>> {
  const files = textsOption(options, "prices");
  if (files.length === 0) return { plan: choice, notes: [] };
  const lists = await Promise.all(files.map((file) => priceListOf(file, options, context)));
  const { applyPriceLists } = await import("../flow/price-lists.ts");
  return unwrap(applyPriceLists(choice, lists));
}

/** A choice at the prices that `--price` asks for. */
async function changedBy<C extends Choice>(choice: C, options: Options): Promise<ChangedPlan<C>> {
  const changes = priceChanges(textsOption(options, "price"));
  if (Object.keys(changes).length === 0) return { plan: choice, notes: [] };
  const { changePlan } = await import("../flow/changes.ts");
  return unwrap(changePlan(choice, { price: changes, exclude: [] }, "--price"));
}

/** A plan with what a reader should know of other prices among its warnings. */
export function warnedOf({ plan, notes }: ChangedPlan): Plan {
  const notices = notes.map((text): Notice => ({ code: "prices-changed", text }));
  return { ...plan, warnings: [...plan.warnings, ...notices] };
}

/** The plan at the prices that `--price` asks for; lists are read with the plan (`givenPlans`). */
export async function atPrices(plan: Plan, options: Options): Promise<Plan> {
  return warnedOf(await changedBy(plan, options));
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
  const listed = await atLists(choice, options, context);
  return (await changedBy(listed.plan, options)).plan.amendments;
}
