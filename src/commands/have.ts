/** The flag `--have`: shipped amendments by id, at prices said on the command line. */
import { resolve } from "node:path";
import { guess } from "../problem.ts";
import { type Context, UsageError } from "./command.ts";
import { numberOrText, where } from "./plan-options.ts";

/** One offer, as the flag says it. */
interface Offer {
  readonly id: string;
  readonly price: string;
  /** A pack such as `50 lb`, or a unit alone for loose goods: `lb`. */
  readonly size: string;
}

function parseOffer(text: string): Offer {
  const parts = /^\s*([^@\s]+)\s*@\s*([^/]+?)\s*\/\s*(.+?)\s*$/.exec(text);
  if (parts === null)
    throw new UsageError(
      `--have ${text}: write an id, \`@\`, a price, \`/\` and the size of the bag, for instance ` +
        '--have "blood-meal@60/50 lb" (or blood-meal@1.20/lb, loose)',
    );
  return { id: parts[1]!, price: parts[2]!, size: parts[3]! };
}

/**
 * What a plan would say under `amendments` and `only`: the shipped ones, with these offers in place of their placeholder
 * prices, and the ids to choose from.
 * @param only the ids of `--only`, where it was given.
 * @throws UsageError for an offer that cannot be read, an id that does not ship, or one of `--only` without an offer.
 */
export async function offered(
  texts: readonly string[],
  only: readonly string[] | undefined,
  context: Context,
): Promise<{ readonly amendments: unknown; readonly only: readonly string[] }> {
  const offers = texts.map(parseOffer);
  const { amendmentIds } = await import("../files/load.ts");
  const at = where(context);
  const shipped = amendmentIds(context.files, resolve(at.recipesDir, "amendments", "all.yaml"), at);
  for (const { id } of offers)
    if (!shipped.has(id))
      throw new UsageError(
        `--have: no amendment called \`${id}\` ships; ${guess(id, shipped, "`barrowmix list amendments` shows them")}`,
      );
  const isLoose = (offer: Offer): boolean => !/\d/.test(offer.size);
  const ids = [...new Set(offers.map(({ id }) => id))];
  const entries = ids.map((id) => {
    const own = offers.filter((offer) => offer.id === id);
    const [loose, another] = own.filter(isLoose);
    if (another !== undefined) throw new UsageError(`--have: \`${id}\` has two loose prices; give one`);
    const packs = own
      .filter((offer) => !isLoose(offer))
      .map(({ size, price }) => ({ size, price: numberOrText(price) }));
    const bulk = loose && { bulk: { price: numberOrText(loose.price), per: loose.size } };
    return [id, { packs, ...bulk }] as const;
  });
  const absent = only?.find((id) => !ids.includes(id));
  if (absent !== undefined) throw new UsageError(`--only ${absent}: it is not among the ids of --have`);
  return { amendments: [{ recipe: "all" }, Object.fromEntries(entries)], only: only ?? ids };
}
