/**
 * What makes one of two mixes of equal money the better one, and what several beds buy together, written a second time for
 * HiGHS on the model of `reference-shop.ts`. It shares no code with the project.
 */
import type { ShopSpec } from "./random-shop.ts";
import { highsLeast, type Reference, referenceShop } from "./reference-shop.ts";

const KG = 5_000;

/** A model that pays no more than a total, with other costs. */
function within(
  model: Reference,
  total: number,
  cost: ReadonlyMap<string, number>,
  further: Reference["rows"] = [],
): Reference {
  const spent = [...model.cost].map(([name, value]): [number, string] => [value, name]);
  return {
    ...model,
    cost,
    rows: [...model.rows, { terms: spent, sense: "<=", rhs: total + 0.001 }, ...further],
  };
}

/** By amendment, whether any of it is used, as a whole number with its row. */
function usedOf(spec: ShopSpec): Pick<Reference, "rows" | "upper" | "whole"> {
  const names = spec.amendments.map((_, i) => `used_${i}`);
  return {
    whole: names,
    upper: new Map(names.map((name) => [name, 1])),
    rows: spec.amendments.map((_, i) => ({
      terms: [
        ...spec.applications.map((_, t): [number, string] => [1, `x_${i}_${t}`]),
        [-KG, `used_${i}`] as const,
      ],
      sense: "<=" as const,
      rhs: 0,
    })),
  };
}

/** By amendment and application, whether any of it is used in that application, as a whole number with its row. */
function pairsOf(spec: ShopSpec): Pick<Reference, "rows" | "upper" | "whole"> {
  const pairs = spec.amendments.flatMap((_, i) => spec.applications.map((_, t) => `${i}_${t}`));
  const names = pairs.map((pair) => `pair_${pair}`);
  return {
    whole: names,
    upper: new Map(names.map((name) => [name, 1])),
    rows: pairs.map((pair) => ({
      terms: [[1, `x_${pair}`] as const, [-KG, `pair_${pair}`] as const],
      sense: "<=" as const,
      rhs: 0,
    })),
  };
}

/**
 * The fewest materials of any mix on a purchase of a total, where each application has its own mix then the fewest pairs of
 * application and material, and the least worth of what those use.
 */
export async function bestTie(
  spec: ShopSpec,
  total: number,
): Promise<{ fewest: number; worth: number } | undefined> {
  const base = referenceShop(spec);
  const counts = spec.blend === "one" ? [usedOf(spec)] : [usedOf(spec), pairsOf(spec)];
  const model: Reference = {
    ...base,
    rows: [...base.rows, ...counts.flatMap(({ rows }) => rows)],
    upper: new Map([base, ...counts].flatMap(({ upper }) => [...upper])),
    whole: [base, ...counts].flatMap(({ whole }) => whole),
  };
  const few: Reference["rows"][number][] = [];
  const least: number[] = [];
  for (const { whole } of counts) {
    const cost = new Map(whole.map((name) => [name, 1] as const));
    const found = await highsLeast(within(model, total, cost, few));
    if (found === null || found === undefined) return undefined;
    least.push(Math.round(found));
    few.push({ terms: whole.map((name) => [1, name] as const), sense: "<=", rhs: Math.round(found) });
  }
  const price = (i: number): number => {
    const { packs, bulkPerKg } = spec.amendments[i]!;
    const all = [...packs.map((pack) => pack.price / pack.kg), ...(bulkPerKg === null ? [] : [bulkPerKg])];
    return all.length === 0 ? 0 : Math.min(...all);
  };
  const worth = new Map(
    spec.amendments.flatMap((_, i) => spec.applications.map((_, t) => [`x_${i}_${t}`, price(i)] as const)),
  );
  const cheapest = await highsLeast(within(model, total, worth, few));
  return cheapest === null || cheapest === undefined ? undefined : { fewest: least[0]!, worth: cheapest };
}

/** Several beds with the same amendments and suppliers: one shed, one purchase, one delivery, a mix for each. */
export function jointModel(specs: readonly ShopSpec[]): Reference {
  const [first, ...others] = specs.map((spec) => referenceShop(spec));
  const rows = [...first!.rows];
  const upper = new Map(first!.upper);
  const own = (name: string): boolean => /^(x|total|avail)/.test(name);
  const shedRow = (row: Reference["rows"][number]): string | undefined =>
    row.terms.some(([, name]) => name.startsWith("x_"))
      ? row.terms.find(([, name]) => name.startsWith("bought_"))?.[1]
      : undefined;
  others.forEach((model, b) => {
    const renamed = (name: string): string => (own(name) ? `bed${b + 2}_${name}` : name);
    for (const [name, value] of model.upper) if (own(name)) upper.set(renamed(name), value);
    for (const row of model.rows) {
      const terms = row.terms.map(([value, name]): [number, string] => [value, renamed(name)]);
      const bought = shedRow(row);
      if (bought !== undefined) {
        // What this bed takes comes out of the same shed and the same bags.
        const k = rows.findIndex((one) => shedRow(one) === bought);
        rows[k] = {
          ...rows[k]!,
          terms: [...rows[k]!.terms, ...terms.filter(([, name]) => name.startsWith("bed"))],
        };
      } else if (terms.some(([, name]) => name.startsWith("bed"))) rows.push({ ...row, terms });
    }
  });
  return { ...first!, rows, upper };
}
