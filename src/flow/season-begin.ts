/** A season as it begins: what an answer decided, in weights as they are weighed. */
import type {
  BoughtLine,
  LogLine,
  PlannedRound,
  SeasonFile,
  SeasonMix,
  SpreadLine,
  ToBuy,
} from "../files/season-model.ts";
import { packText } from "../files/season-text.ts";
import type { Plan } from "../model.ts";
import { defined } from "../optional.ts";
import type { BedAnswer, Mix, Solution } from "../results/solution.ts";

/**
 * The season that an answer begins, with nothing in its log.
 * @param plans those of the answer, in their order.
 */
export function begun(solution: Solution, plans: readonly [Plan, ...Plan[]], file: string): SeasonFile {
  const [first] = plans;
  const mixes = solution.mixes.map(mixOf);
  const materials = new Map(
    plans.flatMap(({ amendments }) => amendments.map((one) => [one.id, one] as const)),
  );
  const stock = [...materials.values()].filter(({ stockKg }) => stockKg > 0);
  return {
    file,
    beds: plans,
    planted: first.planted ?? "",
    units: solution.units,
    currency: solution.currency,
    people: {},
    mixes,
    planned: solution.beds.flatMap((bed, p) => plannedOf(bed, plans[p]!, solution.mixes)),
    shed: Object.fromEntries(stock.map(({ id, stockKg }) => [id, stockKg])),
    toBuy: solution.purchases.flatMap((line): ToBuy[] => {
      const supplier = line.supplier ?? undefined;
      const packs = line.packs.map((pack) => ({
        id: line.id,
        text: packText(pack, solution.units),
        count: pack.count,
        sizeKg: pack.sizeKg,
        ...defined({ supplier: pack.supplier ?? supplier, price: pack.count * pack.price }),
      }));
      if (!(line.bulkKg > 0)) return packs;
      const paid = packs.reduce((sum, { price = 0 }) => sum + price, 0);
      const text = packText({ count: 1, sizeKg: line.bulkKg }, solution.units).replace(/^1 x /, "");
      const loose = { id: line.id, text, count: 1, sizeKg: line.bulkKg };
      return [...packs, { ...loose, ...defined({ supplier, price: line.cost - paid }) }];
    }),
    log: [],
    materials: [...materials.values()].sort((a, b) => (a.id < b.id ? -1 : 1)),
    warnings: [],
  };
}

/** A mix as it is weighed: its batches, all alike. */
function mixOf({ name, batches }: Mix): SeasonMix {
  const { count, kgEach, weights } = batches;
  return {
    name,
    kg: Object.fromEntries(weights.map(({ id, kg }) => [id, kg * count])),
    heapKg: kgEach * count,
    batches: count,
  };
}

function plannedOf(bed: BedAnswer, plan: Plan, mixes: readonly Mix[]): PlannedRound[] {
  return bed.rounds.map(({ name, day, mix, batchesTaken, alone }) => {
    const of = mixes.find((one) => one.name === mix);
    const placement = plan.applications.find((one) => one.name === name)?.placement;
    return {
      bed: bed.bed,
      round: name,
      day,
      gives: {
        ...(of && batchesTaken > 0 ? { [of.name]: batchesTaken * of.batches.kgEach } : {}),
        ...Object.fromEntries(alone.map(({ id, kg }) => [id, kg])),
      },
      ...defined({ placement }),
    };
  });
}

/** The same season on a day before which everything went as planned: all bought, every round before the day given. */
export function asPlannedUntil(season: SeasonFile, day: number, more: readonly LogLine[]): SeasonFile {
  const bought = season.toBuy.map(
    ({ id, count, sizeKg }, k): BoughtLine => ({
      kind: "bought",
      number: k + 1,
      line: 0,
      day: -1,
      id,
      kg: count * sizeKg,
    }),
  );
  const rounds = [...new Set(season.planned.filter((round) => round.day < day).map(({ round }) => round))];
  const spread = rounds.map((name): SpreadLine => {
    const of = season.planned.filter(({ round }) => round === name);
    return { kind: "spread", number: 0, line: 0, day: of[0]!.day, round: name, beds: of, lots: {} };
  });
  const first = Math.min(-1, ...spread.map((line) => line.day - 1));
  return {
    ...season,
    log: [...bought.map((line) => ({ ...line, day: first })), ...spread, ...more].sort(
      (a, b) => a.day - b.day,
    ),
  };
}
