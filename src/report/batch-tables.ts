/** What to weigh into each batch, as tables: one where all applications are weighed alike, else side by side. */

import type { OwnMeasure } from "../model.ts";
import type { SolutionApplication } from "../results/solution.ts";
import { counted, csvWeight, listed, scaleWeight, type UnitSystem } from "../words/numbers.ts";
import { loose } from "../words/own-measures.ts";
import {
  type Block,
  type Cell,
  cell,
  figures,
  numberCell,
  paragraph,
  tableBlock,
  tableOf,
  words,
} from "./report.ts";

/** Columns of batch weights that fit beside the names on 80 columns. */
const BATCH_COLUMNS = 4;

/** The mix whose batches are shown. */
export interface BatchMix {
  readonly applications: readonly SolutionApplication[];
  /** In the order of the rows. */
  readonly amendments: readonly { readonly id: string; readonly name: string }[];
  readonly scaleKg: number;
  readonly units: UnitSystem;
  /** The grower's own measures. */
  readonly scoops?: readonly OwnMeasure[] | undefined;
}

/** `2 batches`. */
function batchesOf({ batches }: SolutionApplication): string {
  return counted(batches.count, "batch", "batches");
}

/** The tables, and what is said about them; nothing for a mix that is nowhere spread. */
export function batchBlocks(mix: BatchMix): Block[] {
  const fed = mix.applications.filter((application) => application.batches.count > 0);
  const kinds = batchKinds(fed);
  const blocks: Block[] = [];
  if (kinds.length === 1) blocks.push(...oneKind(mix, kinds[0]!));
  else
    for (let from = 0; from < kinds.length; from += BATCH_COLUMNS)
      blocks.push(manyKinds(mix, kinds.slice(from, from + BATCH_COLUMNS)));
  const none = mix.applications.filter((application) => application.batches.count === 0);
  if (none.length > 0) blocks.push(paragraph(`Nothing is needed for ${listed(none.map((a) => a.name))}.`));
  return blocks;
}

/** Applications whose batches are weighed alike, in order of their first. */
function batchKinds(applications: readonly SolutionApplication[]): SolutionApplication[][] {
  const kinds = new Map<string, SolutionApplication[]>();
  for (const application of applications) {
    const key = application.batches.weights
      .map(({ id, kg }) => `${id}=${kg.toPrecision(9)}`)
      .sort()
      .join(";");
    const kind = kinds.get(key);
    if (kind) kind.push(application);
    else kinds.set(key, [application]);
  }
  return [...kinds.values()];
}

function oneKind(
  { amendments, scaleKg, units, scoops }: BatchMix,
  kind: readonly SolutionApplication[],
): Block[] {
  const { unit, of } = csvWeight(units);
  const { weights, kgEach } = kind[0]!.batches;
  const scale = (kg: number) => scaleWeight(kg, scaleKg, units);
  const table = tableOf(
    amendments.flatMap(({ id, name }) => weights.filter((w) => w.id === id).map((w) => ({ ...w, name }))),
    [
      words("Amendment", "amendment", (w) => w.name),
      figures(
        "Into each batch",
        `weight_${unit}`,
        (w) => of(w.kg),
        (_, w) => scale(w.kg),
      ),
      figures(
        "or, loose",
        "volume_ml",
        (w) => w.mL,
        (mL) => loose(mL, units, scoops),
      ),
    ],
    { amendment: cell("One batch weighs"), [`weight_${unit}`]: numberCell(scale(kgEach), of(kgEach)) },
  );
  const counts = kind.map((application) => `${batchesOf(application)} for ${application.name}`);
  return [paragraph(`Make ${listed(counts)}${counts.length > 1 ? ", all alike" : ""}.`), tableBlock(table)];
}

function manyKinds(
  { amendments, scaleKg, units }: BatchMix,
  kinds: readonly (readonly SolutionApplication[])[],
): Block {
  const { unit, of } = csvWeight(units);
  const scale = (kg: number) => scaleWeight(kg, scaleKg, units);
  const kgIn = (kind: readonly SolutionApplication[], id: string) =>
    kind[0]!.batches.weights.find((w) => w.id === id)?.kg ?? 0;
  const heading = (i: number) => `batch_${i + 1}_${unit}`;
  return tableBlock(
    tableOf(
      amendments.filter(({ id }) => kinds.some((kind) => kgIn(kind, id) > 0)),
      [
        words("Amendment", "amendment", (a) => a.name),
        ...kinds.map((kind, i) =>
          figures<BatchMix["amendments"][number]>(
            listed(kind.map((application) => `${application.name}, ${batchesOf(application)}`)),
            heading(i),
            ({ id }) => of(kgIn(kind, id)),
            (kg, { id }) => (kg > 0 ? scale(kgIn(kind, id)) : "none"),
          ),
        ),
      ],
      Object.fromEntries([
        ["amendment", cell("One batch weighs")],
        ...kinds.map((kind, i): [string, Cell] => {
          const kg = kind[0]!.batches.kgEach;
          return [heading(i), numberCell(scale(kg), of(kg))];
        }),
      ]),
    ),
  );
}
