/**
 * Draws of the worked seasons once a soil has been read: the same seasons, moved and drawn together as the readings say
 * (`Past.readings`, `Past.shifts`), so that they are the seasons in which the readings came out as they did.
 */
import type { Past, Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { curveOf } from "../season/season.ts";
import { analysisSpread, ownReleaseSpread, wholeLotSpread } from "../season/varies.ts";
import { normalColumn } from "../solver/normal.ts";

/** A doubt as a sum of draws, by their coordinates; the weights are of length 1 together. */
type Part = readonly [draw: number, weight: number];

/**
 * The draws that readings move, by coordinate.
 * @param coordinateOf gives the coordinate of a draw by its name.
 */
export function toldDraws(
  plan: Plan,
  { readings, shifts }: Past,
  coordinateOf: (name: string) => number,
  count: number,
): Map<number, Float64Array> {
  const keys = [
    ...new Set([...readings.flatMap(({ spreads }) => spreads), ...shifts].map(({ doubt }) => doubt)),
  ];
  const parts = keys.map((key) => partsOf(plan, key, coordinateOf));
  const drawn = parts.map((some) => summed(some, count));
  const told = drawn.map((column) => column.slice());
  for (const { beta, spreads } of readings.toReversed()) {
    const h = keys.map((key) => spreads.find(({ doubt }) => doubt === key)?.by ?? 0);
    const squared = h.reduce((sum, by) => sum + by * by, 0);
    const along = new Float64Array(count);
    told.forEach((column, k) => {
      if (h[k] !== 0) for (let j = 0; j < count; j++) along[j] = along[j]! + h[k]! * column[j]!;
    });
    told.forEach((column, k) => {
      const less = (beta * h[k]!) / squared;
      if (less !== 0) for (let j = 0; j < count; j++) column[j] = column[j]! - less * along[j]!;
    });
  }
  const columns = new Map<number, Float64Array>();
  told.forEach((column, k) => {
    const shift = shifts.find(({ doubt }) => doubt === keys[k])?.by ?? 0;
    for (const [draw, weight] of parts[k]!) {
      const own = normalColumn(draw, count).slice();
      for (let j = 0; j < count; j++) own[j] = own[j]! + weight * (column[j]! + shift - drawn[k]![j]!);
      columns.set(draw, own);
    }
  });
  return columns;
}

/** What a doubt's draws are called in `SeasonWork`, with their weights. */
function partsOf(plan: Plan, key: string, coordinateOf: (name: string) => number): Part[] {
  const [kind, id = "", nutrient] = key.split(" ");
  if (kind !== "lot") return [[coordinateOf(key), 1]];
  const amendment = plan.amendments.find((one) => one.id === id)!;
  const content = analysisSpread(amendment, nutrient as Nutrient);
  const release = ownReleaseSpread(plan, curveOf(amendment, nutrient as Nutrient));
  const own = wholeLotSpread(plan, amendment, nutrient as Nutrient);
  const draws = [
    [`analysis ${id} ${nutrient}`, content],
    [`release ${id} ${nutrient}`, release],
  ] as const;
  return draws.flatMap(([name, cv]): Part[] => (cv > 0 ? [[coordinateOf(name), cv / own]] : []));
}

function summed(parts: readonly Part[], count: number): Float64Array {
  const sum = new Float64Array(count);
  for (const [draw, weight] of parts) {
    const column = normalColumn(draw, count);
    for (let j = 0; j < count; j++) sum[j] = sum[j]! + weight * column[j]!;
  }
  return sum;
}
