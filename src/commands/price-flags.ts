/** `--price` and `--prices`: other prices for what a command works with, beside those of the files. */
import type { DecimalSign } from "../files/price-list.ts";
import type { ChangedPlan, Choice } from "../flow/changes.ts";
import type { PriceList } from "../flow/price-lists.ts";
import type { Amendment, Plan } from "../model.ts";
import { faultText, type Notice, ok, type Result } from "../problem.ts";
import { type PriceChange, parsePriceChange } from "../units.ts";
import { listed } from "../words/numbers.ts";
import { type Context, type Flag, type Options, textOption, textsOption, UsageError } from "./command.ts";

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
export async function priceListOf(
  file: string,
  options: Options,
  context: Context,
): Promise<Result<PriceList>> {
  const { world } = context;
  const { loadPriceList } = await import("../files/price-list.ts");
  const rows = loadPriceList(world.files, file, world.cwd, decimalOf(options));
  return rows.ok ? ok({ file, rows: rows.value }) : rows;
}

/** What `--price` and `--prices` ask for; null where neither was given. */
async function asked(
  options: Options,
  context: Context,
): Promise<Result<{ list: PriceList | null; changes: Record<string, PriceChange[]> } | null>> {
  const file = textOption(options, "prices");
  const texts = textsOption(options, "price");
  if (file === undefined && texts.length === 0) return ok(null);
  const list = file === undefined ? ok(null) : await priceListOf(file, options, context);
  return list.ok ? ok({ list: list.value, changes: priceChanges(texts) }) : list;
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
): Promise<Result<ChangedPlan<C>>> {
  const wanted = await asked(options, context);
  if (!wanted.ok) return wanted;
  if (wanted.value === null) return ok({ plan: choice, notes: [] });
  const { changePlan } = await import("../flow/changes.ts");
  const { applyPriceList } = await import("../flow/price-lists.ts");
  const { list, changes } = wanted.value;
  const atList = list ? applyPriceList(choice, list, false) : ok({ plan: choice, notes: [], unlisted: [] });
  if (!atList.ok) return atList;
  const changed = changePlan(atList.value.plan, { price: changes, without: [] }, "--price");
  if (!changed.ok) return changed;
  const left = (atList.value.unlisted ?? []).filter((id) => !Object.hasOwn(changes, id));
  const kept = `The price list does not have these; they keep the plan's prices: ${listed(left)}.`;
  const notes = [...atList.value.notes, ...(left.length > 0 ? [kept] : []), ...changed.value.notes];
  return ok({ plan: changed.value.plan, notes });
}

/** The plan at the prices that the flags ask for; what a reader should know is in its warnings. */
export async function atPrices(plan: Plan, options: Options, context: Context): Promise<Result<Plan>> {
  const changed = await chosenAt(plan, options, context);
  if (!changed.ok) return changed;
  const notices = changed.value.notes.map((text): Notice => ({ code: "prices-changed", text }));
  return ok({ ...changed.value.plan, warnings: [...plan.warnings, ...notices] });
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
): Promise<Result<readonly Amendment[]>> {
  const own = new Set(amendments.map(({ id }) => id));
  const leftOut = elsewhere.filter((id) => !own.has(id)).map((id) => ({ id, why: "not in only" as const }));
  const choice: Choice = { amendments, leftOut, limits: [], suppliers: [] };
  const changed = await chosenAt(choice, options, context);
  return changed.ok ? ok(changed.value.plan.amendments) : changed;
}
