/** A season that begins, as the text of its file. */
import { dateOfDay } from "../calendar.ts";
import { fromSi } from "../units.ts";
import { scalar } from "./season-log.ts";
import type { SeasonFile } from "./season-model.ts";

const unitOf = (units: SeasonFile["units"]) => (units === "us" ? "lb" : "kg");

/** A weight as a file writes it: exact to a tenth of a gram or so. */
function weightText(kg: number, units: SeasonFile["units"]): string {
  return `${Number(fromSi(kg, unitOf(units)).toFixed(4))} ${unitOf(units)}`;
}

/** `3 x 50 lb`. */
export function packText(
  { count, sizeKg }: { readonly count: number; readonly sizeKg: number },
  units: SeasonFile["units"],
): string {
  return `${count} x ${weightText(sizeKg, units)}`;
}

const inBraces = (pairs: readonly (readonly [string, string])[]): string =>
  `{${pairs.map(([key, value]) => `${scalar(key)}: ${value}`).join(", ")}}`;

/**
 * The file of a season that begins.
 * @param plan path of the plan, from the file's own folder.
 */
export function seasonText(season: SeasonFile, plan: string): string {
  const { units, planted } = season;
  const weights = (kg: Readonly<Record<string, number>>) =>
    Object.entries(kg).map(([id, one]) => [id, weightText(one, units)] as const);
  return [
    "# A season as it goes. Weights are as decided and do not change with a price; `log` is the last key.",
    '# A line is added by hand or by `barrowmix log FILE "2027-09-10 rain 2.5 in"`; `barrowmix now FILE` says what to do.',
    `season: ${scalar(plan)}`,
    `planted: ${planted}`,
    "mixes:",
    ...season.mixes.map(({ name, kg }) => `  ${scalar(name)}: ${inBraces(weights(kg))}`),
    `batches: ${inBraces(season.mixes.map(({ name, batches }) => [name, String(batches)]))}`,
    "planned:",
    ...season.planned.map(({ bed, round, day, gives }) => {
      const where = [
        ["bed", scalar(bed)],
        ["round", scalar(round)],
        ["day", dateOfDay(day, planted)],
      ] as const;
      return `  - ${inBraces([...where, ...weights(gives)])}`;
    }),
    `shed: ${inBraces(weights(season.shed))}`,
    ...(season.toBuy.length === 0
      ? []
      : [
          "to_buy:",
          ...season.toBuy.map(({ id, text, supplier, price }) => {
            const seller = supplier === undefined ? [] : [["supplier", scalar(supplier)] as const];
            const paid = price === undefined ? [] : [["price", price.toFixed(2)] as const];
            return `  - ${inBraces([[id, text], ...seller, ...paid])}`;
          }),
        ]),
    "log:",
    "",
  ].join("\n");
}
