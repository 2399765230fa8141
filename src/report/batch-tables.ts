/** What to weigh into each batch, as tables: one where all applications are weighed alike, else side by side. */

import type { Plan } from "../model.ts";
import type { ShoppingMix } from "../results/shopping.ts";
import type { SolutionApplication } from "../results/solution.ts";
import { counted, csvWeight, listed, scaleWeight, type UnitSystem } from "../words/numbers.ts";
import { loose } from "../words/own-measures.ts";
import {
  type Block,
  type ColumnOf,
  cell,
  figures,
  paragraph,
  type Section,
  section,
  sideBySide,
  table,
  words,
} from "./report.ts";

/** Columns of batch weights that fit beside the names on 80 columns. */
const BATCH_COLUMNS = 4;

/** The mix whose batches are shown. */
type BatchMix = Pick<ShoppingMix, "amendments" | "applications" | "rounding">;

/** Applications that get any in groups that are mixed alike, in order of their first. Weights are multiples of the scale. */
export function mixedAlike(
  applications: readonly SolutionApplication[],
  scaleKg: number,
): SolutionApplication[][] {
  const kinds = new Map<string, SolutionApplication[]>();
  for (const application of applications) {
    const { count, weights } = application.batches;
    if (count === 0) continue;
    const key = JSON.stringify(weights.map(({ id, kg }) => [id, Math.round(kg / scaleKg)]).sort());
    kinds.set(key, [...(kinds.get(key) ?? []), application]);
  }
  return [...kinds.values()];
}

/** `2 batches`. */
export function batchesOf({ batches }: SolutionApplication): string {
  return counted(batches.count, "batch", "batches");
}

/** The tables, and what is said about them; nothing for a mix that is nowhere spread. */
export function batchSection(title: string, mix: BatchMix, plan: Pick<Plan, "units" | "scoops">): Section[] {
  const { applications, rounding } = mix;
  const kinds = mixedAlike(applications, rounding.scaleKg);
  const none = applications.filter(({ batches }) => batches.count === 0);
  const counts = (kinds[0] ?? []).map((application) => `${batchesOf(application)} for ${application.name}`);
  return section(
    title,
    kinds.length === 1
      ? [
          paragraph(`Make ${listed(counts)}${counts.length > 1 ? ", all alike" : ""}.`),
          batchTable(mix, plan, kinds, true),
        ]
      : sideBySide(kinds, BATCH_COLUMNS).map((some) => batchTable(mix, plan, some, false)),
    paragraph(none.length === 0 ? "" : `Nothing is needed for ${listed(none.map(({ name }) => name))}.`),
  );
}

/** @param alone all applications are mixed alike: there is room for loose measures in place of their names. */
function batchTable(
  { amendments, rounding }: BatchMix,
  { units, scoops }: Pick<Plan, "units" | "scoops">,
  kinds: readonly (readonly SolutionApplication[])[],
  alone: boolean,
): Block {
  const scale = (kg: number) => scaleWeight(kg, rounding.scaleKg, units);
  const batches = kinds.map((kind) => kind[0]!.batches);
  const into = (k: number, id: string) => batches[k]!.weights.find((w) => w.id === id);
  return table(
    heaviestFirst(amendments).filter(({ id }) => kinds.some((_, k) => into(k, id))),
    [
      words("Amendment", "amendment", (a) => a.name),
      ...kinds.map((kind, k) =>
        figures<BatchMix["amendments"][number]>(
          alone ? "Into each batch" : listed(kind.map((one) => `${one.name}, ${batchesOf(one)}`)),
          `batch_${k + 1}_kg`,
          ({ id }) => into(k, id)?.kg ?? null,
          scale,
          () => cell("none"),
        ),
      ),
      figures(
        "or, loose",
        "volume_ml",
        ({ id }) => (alone ? (into(0, id)?.mL ?? null) : null),
        (mL) => loose(mL, units, scoops),
      ),
    ],
    ["One batch weighs", ...batches.map(({ kgEach }) => scale(kgEach))],
  );
}

/** Amendments of a mix, heaviest first; of equal weight, by id. */
export function heaviestFirst<T extends { readonly id: string; readonly kg: number }>(
  amendments: readonly T[],
): T[] {
  return amendments.toSorted((a, b) => b.kg - a.kg || (a.id < b.id ? -1 : 1));
}

/** One amendment of one application, for CSV. */
export interface BatchRow {
  readonly application: SolutionApplication;
  readonly line: {
    readonly id: string;
    readonly name: string;
    readonly kg: number;
    readonly mL: number | null;
  };
}

/** What every CSV of batches begins with. */
export function batchColumns(units: UnitSystem): ColumnOf<BatchRow>[] {
  const { unit, of } = csvWeight(units);
  return [
    words("Application", "application", (r) => r.application.name),
    figures("Day", "day", (r) => r.application.day),
    figures("Batches", "batches", (r) => r.application.batches.count),
    words("Id", "id", (r) => r.line.id),
    words("Amendment", "amendment", (r) => r.line.name),
    figures("Into each batch", `batch_${unit}`, (r) => of(r.line.kg)),
  ];
}
