/** The price lists that a plan names, or that are put beside it: read, and what they offer laid over its amendments. */

import { resolve } from "node:path";
import type { Amendment } from "../model.ts";
import { defined } from "../optional.ts";
import { type Notice, noticesOf, type Problem } from "../problem.ts";
import { isDefined, type Shelf } from "./amendments.ts";
import { type Cursor, type Loading, readText, shownPath } from "./context.ts";
import { listedAs, type Offer } from "./offers.ts";
import type { DecimalSign } from "./price-cells.ts";
import { type Listed, type ListUse, offersIn, type PriceList, readPriceList } from "./price-list.ts";
import { priceListSchema } from "./schema/plan.ts";
import { isRecord } from "./source.ts";

/** A price list beside those that a plan names. */
export interface ExtraPrices {
  /** From the working folder. */
  readonly file: string;
  readonly decimal?: DecimalSign;
}

/** A list that has been read, and how it is used. */
export interface UsedList {
  readonly list: PriceList;
  readonly use?: ListUse;
}

const MOST_NAMED = 3;

/**
 * The price lists of a plan, and those beside it.
 * @param plan what names them under `prices`.
 */
export function readPriceLists(
  plan: Cursor,
  shelf: Shelf,
  extra: readonly ExtraPrices[],
  currency: string,
): UsedList[] {
  const { loading } = plan;
  const lists: UsedList[] = [];
  const add = (path: string, use: ListUse, decimal: DecimalSign | undefined, asked?: Cursor): void => {
    const list = openPriceList(loading, path, decimal, asked);
    if (list) lists.push({ list, use: { ...use, currency } });
  };
  for (const item of plan.at("prices").each) {
    const written = item.written();
    if (typeof written === "string") add(item.resolve(written.trim()), {}, undefined, item);
    else if (!isRecord(written)) item.complainOfType("a price list, for instance `spring.csv`");
    else {
      const one = item.read(priceListSchema());
      if (one === undefined) continue;
      const { file, supplier, names = {}, decimal } = one;
      const known = Object.entries(names).filter(([name, id]) =>
        isDefined(item.at("names", name), id, shelf),
      );
      add(item.resolve(file), { ...defined({ supplier }), names: new Map(known) }, decimal, item.at("file"));
    }
  }
  for (const { file, decimal } of extra) add(resolve(loading.where.cwd, file), {}, decimal);
  return lists;
}

/** Reads one price list; undefined where it cannot be read (reported). */
export function openPriceList(
  loading: Loading,
  path: string,
  decimal?: DecimalSign,
  asked?: Cursor,
): PriceList | undefined {
  const text = readText(loading, path, asked);
  if (text === undefined) return undefined;
  const read = readPriceList(text, shownPath(loading.where, path), decimal);
  if (!read.ok) loading.problems.push(...read.problems);
  return read.ok ? read.value : undefined;
}

/** What several price lists offer together. */
export interface ListedTogether {
  /** By id. */
  readonly offers: ReadonlyMap<string, readonly Offer[]>;
  readonly problems: readonly Problem[];
  /** What should be said. */
  readonly notices: readonly Notice[];
}

/**
 * What price lists offer of amendments: the same pack in two lists is two offers.
 * @param sold whether an amendment is among the choice: prices of others are not judged.
 */
export function offersOfLists(
  lists: readonly UsedList[],
  amendments: readonly Amendment[],
  sold: (id: string) => boolean = () => true,
): ListedTogether {
  const offers = new Map<string, Offer[]>();
  const problems: Problem[] = [];
  const notices: Notice[] = [];
  for (const { list, use } of lists) {
    const listed = offersIn(list, amendments, use, sold);
    for (const problem of listed.problems) problems.push(problem);
    for (const [id, more] of listed.offers) offers.set(id, [...(offers.get(id) ?? []), ...more]);
    notices.push(...listNotices(list, listed));
  }
  return { offers, problems, notices: [...notices, ...looseNotices(offers)] };
}

/** The amendment as price lists sell it, where they name it: so alone, and at real prices. */
export function offered(amendment: Amendment, offers: ListedTogether["offers"]): Amendment {
  const own = offers.get(amendment.id);
  return own ? listedAs(amendment, own) : amendment;
}

/** Which amendments keep prices of their own beside lists; placeholders are told of where money is spent on them. */
export function keptPrices(amendments: readonly Amendment[], offers: ListedTogether["offers"]): Notice[] {
  const kept = amendments.filter(
    ({ id, packs, bulkPricePerKg, placeholder }) =>
      !offers.has(id) && !placeholder && (packs.length > 0 || bulkPricePerKg !== undefined),
  );
  const ids = kept.map(({ id }) => id).join(", ");
  const text = `The price list does not have these; they keep the plan's prices: ${ids}.`;
  return kept.length === 0 ? [] : [{ code: "prices-changed", text }];
}

function listNotices({ file, rows }: PriceList, { strange, slip, unused }: Listed): Notice[] {
  const some = [...new Set(strange)].slice(0, MOST_NAMED).map((name) => `\`${name}\``);
  const unusedNames = unused.map((name) => `\`${name}\``).join(", ");
  return noticesOf({
    "price-rows-unknown":
      strange.length > 0 &&
      `${file}: ${strange.length} of ${rows.length} rows name nothing in the plan and are left out (${some.join(", ")}${strange.length > some.length ? ", ..." : ""}). ${slip ? `Is \`${slip.name}\` meant for \`${slip.id}\`? ` : ""}Where one of them is yours under another name, say so: \`names: {"${strange[0]}": its-id}\`.`,
    "price-names-unused":
      unused.length > 0 && `${file}: no row is called ${unusedNames}, which \`names\` speaks of.`,
  });
}

/** Amendments that several sell by weight: of these offers the cheapest counts. */
function looseNotices(offers: ReadonlyMap<string, readonly Offer[]>): Notice[] {
  return [...offers].flatMap(([id, own]) => {
    const loose = own.filter(({ sizeKg }) => sizeKg === null);
    if (loose.length < 2) return [];
    const cheapest = loose.reduce((best, offer) => (offer.price < best.price ? offer : best));
    const whose = cheapest.seller === null ? "" : `, of ${cheapest.seller}`;
    const text = `${id} is sold by weight in ${loose.length} places; only the cheapest counts${whose}, whatever its delivery costs.`;
    return [{ code: "price-loose-several", text }];
  });
}
