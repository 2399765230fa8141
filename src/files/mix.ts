/** Mix files: what a grower makes today, in weights. */
import { basename } from "node:path";
import type { Amendment, Batch, Count, Day, Kg, Litres, OwnMeasure, SquareMetres } from "../model.ts";
import { defined } from "../optional.ts";
import { isDefined, kgOf, readShelf, resolveEntry } from "./amendments.ts";
import type { Cursor } from "./context.ts";
import { readScoops, withScoops } from "./own-words.ts";
import type { Read } from "./schema/base.ts";
import { mixShape, portionSchema } from "./schema/mix.ts";

type Fields = Read<ReturnType<typeof mixShape>>;

interface Portion {
  readonly amendment: Amendment;
  readonly kg: Kg;
  /** Given only where the file says a volume. */
  readonly litres?: Litres;
}

/** How the mix is spread; every field absent that the file leaves out, except `times`. */
interface MixSpread {
  readonly plants?: Count;
  readonly areaM2?: SquareMetres;
  /** Per plant each time, by weight or loose volume. */
  readonly perPlant?: Batch;
  /** How many batches of the mix are spread each time. */
  readonly batches?: number;
  /** How often; 1 unless given. */
  readonly times: Count;
  /** Days from planting, one for each time, earliest first; absent where the file does not say. */
  readonly days?: readonly Day[];
}

/** A mix, complete and checked. */
export interface WeighedMix {
  readonly name: string;
  readonly currency: string;
  readonly units: "us" | "metric";
  /** By id; never empty, and their weights add to more than nothing. */
  readonly portions: readonly Portion[];
  /** What one batch holds, where that is not the sum of the portions. */
  readonly batch?: Batch;
  readonly spread?: MixSpread;
  /** The grower's own measures, largest first; absent: none. */
  readonly scoops?: readonly OwnMeasure[];
}

/** Reads a mix; undefined where something is wrong with it (reported). */
export function readMix(written: Cursor, extraAmendments: readonly string[] = []): WeighedMix | undefined {
  const scoops = readScoops(written);
  const file = withScoops(written, scoops);
  const { problems } = file.loading;
  const fields = file.readMap(mixShape(), "a mix: a map with `mix` and `amendments`", [
    "mix",
    "amendments",
    "releases",
    "scoops",
  ]);
  const portions = readPortions(file, extraAmendments);
  const mix = file.at("mix");
  if (problems.length === 0 && portions.reduce((sum, { kg }) => sum + kg, 0) <= 0)
    mix.refuseKey("choice-empty", "the mix weighs nothing", "for instance `mix: {blood-meal: 20 lb}`");
  const spread = fields.spread && spreadOf(file.at("spread"), fields.spread);
  const loose = portions.find(({ kg, amendment }) => kg > 0 && amendment.densityKgPerL === undefined);
  for (const [at, size] of [
    [file.at("spread", "per_plant"), fields.spread?.per_plant],
    [file.at("batch"), fields.batch],
  ] as const)
    if (spread && loose && size && "litres" in size)
      at.complain({
        code: "density-missing",
        wrong: `a volume of the mix, and \`${loose.amendment.id}\` has no density`,
        hint: "give a weight, or weigh a level cup and add `density` to the amendment: `density: 0.6 kg/L`",
      });
  if (problems.length > 0) return undefined;
  const { path } = file.tree;
  return {
    name: fields.name ?? (path === "" ? "mix" : basename(path).replace(/\.ya?ml$/i, "")),
    currency: fields.currency ?? "USD",
    units: fields.units ?? "us",
    portions: portions.sort((a, b) => (a.amendment.id < b.amendment.id ? -1 : 1)),
    ...defined({ batch: fields.batch, spread }),
    ...(scoops.length > 0 ? { scoops } : {}),
  };
}

function readPortions(file: Cursor, extraAmendments: readonly string[]): Portion[] {
  const shelf = readShelf(
    file,
    { wrong: "the mix names no amendments", hint: "add `amendments: amendments.yaml`" },
    extraAmendments,
  );
  const mix = file.at("mix");
  return mix.neededKeys("a map such as `{blood-meal: 20 lb}`").flatMap((id): Portion[] => {
    const at = mix.at(id);
    const amount = at.read(portionSchema());
    const entry = isDefined(at, id, shelf, "key") ? shelf.entries.get(id) : undefined;
    const amendment = entry && resolveEntry(file.loading, entry, shelf)?.amendment;
    if (amendment === undefined || amount === undefined) return [];
    const kg = kgOf(at, id, amount, amendment.densityKgPerL);
    return [{ amendment, kg, ...("litres" in amount ? amount : {}) }];
  });
}

function spreadOf(at: Cursor, fields: NonNullable<Fields["spread"]>): MixSpread | undefined {
  const { plants, area, per_plant: perPlant, batches, times, days } = fields;
  const refuse = (what: string, hint: string, where = at): undefined =>
    where.refuseKey("spread-incomplete", what, hint);
  if (perPlant === undefined && batches === undefined)
    refuse("this does not say how much is spread", "give `per_plant: 0.5 cup`, or `batches: 1`");
  else if (plants === undefined && (perPlant !== undefined || area === undefined))
    refuse("this does not say over how many plants", "give `plants: 180`");
  if (days && times !== undefined && days.length !== times) {
    const given = `${days.length} ${days.length === 1 ? "day is" : "days are"} given for ${times} times`;
    refuse(given, "give one day for each time", at.at("days"));
  }
  return defined({
    plants,
    areaM2: area,
    perPlant,
    batches,
    times: times ?? days?.length ?? 1,
    days: days?.toSorted((a, b) => a - b),
  });
}
