/** Price lists as spreadsheets write them: each read as it was meant, or refused at the cell that is wrong. */
import { loadPlan } from "../../src/files/load.ts";
import type { Amendment } from "../../src/model.ts";
import { memoryReader } from "../helpers/files.ts";
import { type DrawnList, type DrawnOffer, drawPriceList, GOODS } from "../helpers/price-lists.ts";
import { seeded } from "../helpers/random.ts";

const PLAN = {
  plan: "lists",
  amendments: Object.fromEntries(
    GOODS.map(({ id, name }) => [
      id,
      { name, analysis: { N: 5 }, bulk: { price: 7, per: "kg" }, release: "at-once" },
    ]),
  ),
  target: { target: "crop", season: "60 days", need: { per: "bed", N: "1 kg" } },
  prices: [{ file: "list.csv", names: Object.fromEntries(GOODS.map(({ id, store }) => [store, id])) }],
};

/** What a plan then has on offer. */
function offersOf({ id, packs, bulkPricePerKg, supplier }: Amendment): DrawnOffer[] {
  return [
    ...packs.map((pack) => ({
      id,
      sizeKg: pack.sizeKg,
      price: pack.price,
      supplier: pack.supplier ?? supplier ?? null,
    })),
    ...(bulkPricePerKg === undefined
      ? []
      : [{ id, sizeKg: null, price: bulkPricePerKg, supplier: supplier ?? null }]),
  ];
}

const shown = ({ id, sizeKg, price, supplier }: DrawnOffer): string =>
  `${id} ${sizeKg === null ? "loose" : sizeKg.toPrecision(9)} ${price.toPrecision(9)} ${supplier}`;

/** What is wrong with how a list is read; undefined where all is right. */
export function wrongWith({ text, offers, fault, foreign }: DrawnList): string | undefined {
  const files = { "/p/plan.yaml": JSON.stringify(PLAN), "/p/list.csv": text };
  const loaded = loadPlan(memoryReader(files), {
    planFile: "/p/plan.yaml",
    cwd: "/p",
    recipesDir: "/recipes",
  });
  if (fault !== null) {
    if (loaded.ok) return `read, though ${fault.why} on line ${fault.line}`;
    // Where the spoiled cell was the one that showed how decimals are written, others can be read in two ways.
    const single = loaded.problems.filter(({ message }) => !message.includes("can be read in two ways"));
    const places = single.map(({ place }) => `${place?.file}:${place?.line}:${place?.column}`);
    return places.join() === `list.csv:${fault.line}:${fault.column}`
      ? undefined
      : `${fault.why} refused at ${places.join()} in place of ${fault.line}:${fault.column}`;
  }
  if (!loaded.ok)
    return `refused: ${loaded.problems.map(({ message, place }) => `${place?.line}:${place?.column} ${message}`).join("; ")}`;
  const { amendments, warnings } = loaded.value.plan;
  const named = new Set(offers.map(({ id }) => id));
  const got = amendments
    .flatMap((one) => (named.has(one.id) ? offersOf(one) : []))
    .map(shown)
    .sort();
  const wanted = offers.map(shown).sort();
  if (got.join() !== wanted.join()) return `got ${got.join("; ")}, wanted ${wanted.join("; ")}`;
  const kept = amendments.filter(({ id }) => !named.has(id));
  if (kept.some(({ bulkPricePerKg, packs }) => bulkPricePerKg !== 7 || packs.length > 0))
    return "what the list does not name has another price";
  const said = warnings
    .filter(({ code }) => code === "price-rows-unknown")
    .map((w) => / (\d+) of/.exec(w.text)?.[1]);
  return said.join() === (foreign > 0 ? String(foreign) : "")
    ? undefined
    : `${foreign} rows are not ours, said ${said.join()}`;
}

/** Draws lists and reads each. @returns how many there were of each kind; throws at the first that is read wrongly. */
export function checkPriceLists(
  count: number,
  seed = 1,
): { readonly read: number; readonly refused: number } {
  let refused = 0;
  for (let i = 0; i < count; i++) {
    const list = drawPriceList(seeded(seed * 100_003 + i));
    const wrong = wrongWith(list);
    if (wrong !== undefined)
      throw new Error(`list ${i} of seed ${seed}: ${wrong}\n${JSON.stringify(list.text)}`);
    if (list.fault) refused++;
  }
  return { read: count - refused, refused };
}
