/** A season as it begins: what an answer decided, in weights as they are weighed, as the text of its file. */
import { dateOfDay } from "../calendar.ts";
import { inBraces, scalar } from "../files/season-log.ts";
import type { Plan } from "../model.ts";
import type { PurchaseLine, Solution } from "../results/solution.ts";
import { fromSi } from "../units.ts";

type Pairs = readonly (readonly [string, string])[];

/**
 * The file of a season that begins, of the plans of an answer in their order.
 * @param plan path of the plan or farm, from the file's own folder.
 * @param planted date of the season's day 0.
 * @param log lines that are in it already, as YAML without their indent.
 */
export function seasonText(
  { units, mixes, beds, purchases }: Solution,
  plans: readonly Plan[],
  plan: string,
  planted: string,
  log: readonly string[] = [],
): string {
  /** Exact to a tenth of a gram or so, and never more: rounds together take no more than was bought. */
  const weight = (kg: number): string => {
    const unit = units === "us" ? "lb" : "kg";
    return `${Math.floor(fromSi(kg, unit) * 1e4 + 1e-3) / 1e4} ${unit}`;
  };
  const weights = (some: readonly { readonly id: string; readonly kg: number }[]): Pairs =>
    some.map(({ id, kg }) => [id, weight(kg)]);
  /** A mix as it is weighed: its batches, all alike. */
  const heaps = mixes.map(({ name, batches: { count, weights: each } }) => ({
    name,
    count,
    weights: weights(each.map(({ id, kg }) => ({ id, kg: kg * count }))),
  }));
  // Rounds are of one bed where several are alike; a season is of all of them.
  const planned = beds.flatMap(({ bed, rounds, bedsAlike }, p) =>
    rounds.map(({ name, day, mix, batchesTaken, alone }) => {
      const of = mixes.find((one) => one.name === mix);
      const date = dateOfDay(day, plans[p]!.planted ?? planted);
      const taken = batchesTaken * bedsAlike;
      return inBraces([
        ["bed", scalar(bed)],
        ["round", scalar(name)],
        ["day", date],
        ...weights(of && taken > 0 ? [{ id: of.name, kg: taken * of.batches.kgEach }] : []),
        ...weights(alone.map(({ id, kg }) => ({ id, kg: kg * bedsAlike }))),
      ]);
    }),
  );
  const stock = new Map(
    plans.flatMap(({ amendments }) => amendments.map((one) => [one.id, one.stockKg] as const)),
  );
  const shed = [...stock].flatMap(([id, kg]) => (kg > 0 ? [{ id, kg }] : []));
  const list = (key: string, items: readonly string[]): string[] =>
    items.length === 0 ? [] : [`${key}:`, ...items.map((item) => `  - ${item}`)];
  return [
    "# A season as it goes. Weights are as decided and do not change with a price; `log` is the last key.",
    '# A line is added by hand or by `barrowmix log FILE "2027-09-10 rain 2.5 in"`; `barrowmix now FILE` says what to do.',
    `season: ${scalar(plan)}`,
    `planted: ${planted}`,
    ...sureLine(plans),
    "mixes:",
    ...heaps.map((heap) => `  ${scalar(heap.name)}: ${inBraces(heap.weights)}`),
    `batches: ${inBraces(heaps.map(({ name, count }) => [name, String(count)]))}`,
    ...list("planned", planned),
    `shed: ${inBraces(weights(shed))}`,
    ...list(
      "to_buy",
      purchases.flatMap((line) => toBuy(line, weight)),
    ),
    "log:",
    ...log.map((line) => `  - ${line}`),
    "",
  ].join("\n");
}

/** How sure the answer was asked to be, where that is the same for all. */
function sureLine([first, ...others]: readonly Plan[]): string[] {
  const { sure } = first!;
  const asked = JSON.stringify(sure);
  if (sure === undefined || others.some((one) => JSON.stringify(one.sure) !== asked)) return [];
  const percent = (p: number): string => `${Number((100 * p).toPrecision(6))}%`;
  const each = sure.each.map(({ nutrient, p }) => [nutrient, percent(p)] as const);
  const together = sure.together ? [["together", percent(sure.together.p)] as const] : [];
  return [`sure: ${inBraces([...each, ...together])}`];
}

/** What a line of the purchase comes to, as items of `to_buy`. */
function toBuy(
  { id, packs, bulkKg, cost, supplier }: PurchaseLine,
  weight: (kg: number) => string,
): string[] {
  const item = (text: string, seller: string | null | undefined, price: number): string =>
    inBraces([
      [id, text],
      ...(seller ? [["supplier", scalar(seller)] as const] : []),
      ["price", price.toFixed(2)],
    ]);
  const paid = packs.reduce((sum, { count, price }) => sum + count * price, 0);
  return [
    ...packs.map(({ count, sizeKg, price, supplier: own }) =>
      item(`${count} x ${weight(sizeKg)}`, own ?? supplier, count * price),
    ),
    ...(bulkKg > 0 ? [item(weight(bulkKg), supplier, cost - paid)] : []),
  ];
}
