/** `list`: what ships with the program, and what may be written in its files. */

import { resolve } from "node:path";
import type { Amendment } from "../model.ts";
import { NUTRIENTS } from "../nutrients.ts";
import { ok, type Result } from "../problem.ts";
import {
  type ColumnOf,
  figures,
  fullTableOf,
  paragraph,
  type Report,
  tableBlock,
  tableOf,
  words,
} from "../report/report.ts";
import type { ListResult } from "../results/listing.ts";
import { counted, listed, percent, plainNumber } from "../words/numbers.ts";
import { type Command, type CommandOutput, type Context, EXIT, oneOf, textOption } from "./command.ts";
import { where } from "./plan-options.ts";
import { shippedNames } from "./shipped.ts";

const TOPICS = ["amendments", "crops", "releases", "units", "cautions", "varies"] as const;
type Topic = (typeof TOPICS)[number];

/** A list that has been searched: one value for each entry, and the report of them. */
interface Listing {
  readonly items: readonly object[];
  readonly report: () => Report;
}

const LISTS: Readonly<Record<Topic, (context: Context, search: string) => Promise<Result<Listing>>>> = {
  amendments: listAmendments,
  crops: listCrops,
  releases: listReleases,
  units: listUnits,
  cautions: listCautions,
  varies: listVaries,
};

export const command: Command = {
  choices: TOPICS,
  arguments: [["<what>", listed(TOPICS, "or")]],
  flags: [["--search <text>", "only the entries with these words in them"]],

  async run([what], options, context): Promise<Result<CommandOutput>> {
    const topic = oneOf(TOPICS, what, "there is no list of");
    const found = await LISTS[topic](context, textOption(options, "search") ?? "");
    if (!found.ok) return found;
    const { items, report } = found.value;
    const json: ListResult = { schema: "barrowmix.list/1", list: topic, items };
    return ok({ exitCode: EXIT.done, json, report });
  },
};

/**
 * Searches entries by every text that their columns hold, and lays out what is left.
 * @param shown the columns for people, which must fit a screen; `whole` those of CSV.
 */
function listing<T>(
  entries: readonly T[],
  search: string,
  words: { readonly one: string; readonly many: string; readonly note: string },
  shown: readonly ColumnOf<T>[],
  whole: readonly ColumnOf<T>[],
  json: (entry: T) => object,
): Result<Listing> {
  // Every word must be found, each in whatever column.
  const wanted = search.toLowerCase().split(/\s+/);
  const textOf = (entry: T) =>
    [...shown, ...whole].map((column) => column.fill(entry)?.text.toLowerCase() ?? "").join("\n");
  const kept = entries.filter((entry) => {
    const text = textOf(entry);
    return wanted.every((word) => text.includes(word));
  });
  const found = search === "" ? "" : ` with "${search}"`;
  return ok({
    items: kept.map(json),
    report: () => ({
      title: `${counted(kept.length, words.one, words.many)}${found}`,
      summary: [
        ...(kept.length > 0 ? [tableBlock(tableOf(kept, shown))] : []),
        paragraph(words.note, "faint"),
      ],
      sections: [],
      csv: fullTableOf(kept, whole),
    }),
  });
}

async function listAmendments(context: Context, search: string): Promise<Result<Listing>> {
  const { loadAmendments } = await import("../files/load.ts");
  const at = where(context);
  const loaded = loadAmendments(context.files, resolve(at.recipesDir, "amendments", "all.yaml"), at);
  if (!loaded.ok) return loaded;
  const share = (a: Amendment, nutrient: (typeof NUTRIENTS)[number]) => a.analysis[nutrient] ?? 0;
  const grade = (a: Amendment) =>
    [share(a, "N"), share(a, "P2O5"), share(a, "K2O")]
      .map((x) => plainNumber(Math.round(x * 1000) / 10))
      .join("-");
  const others = (a: Amendment) =>
    NUTRIENTS.filter((n) => !["N", "P2O5", "K2O"].includes(n) && share(a, n) > 0)
      .map((n) => `${n} ${plainNumber(share(a, n) * 100)}`)
      .join(", ");
  const release = (a: Amendment) => (a.release.byNutrient.N ?? a.release.other).label;
  const { origins } = loaded.value;
  const standing = (about: string) =>
    words<Amendment>(`${about} is`, `${about}_standing`, (a) => origins.get(a.id)?.standing[about] ?? null);
  const mark = (a: Amendment) =>
    ({ memory: " m", computed: " c" })[String(origins.get(a.id)?.standing.analysis)] ?? "";
  return listing(
    loaded.value.amendments,
    search,
    {
      one: "amendment",
      many: "amendments",
      note: "Analyses in percent by weight, here to the tenth, as the publication named as source prints them; c: computed from such, m: from memory. The label of the bag you buy comes first. Prices are placeholders. Sources are in --format csv and json.",
    },
    [
      words("Id", "id", (a) => a.id),
      words("Name", "name", (a) => a.name),
      words("N-P2O5-K2O", "grade", (a) => grade(a) + mark(a)),
      words("Others", "others", others),
      words("Release", "release", release),
    ],
    [
      words("Id", "id", (a) => a.id),
      words("Name", "name", (a) => a.name),
      ...NUTRIENTS.map((n) =>
        figures<Amendment>(n, `${n.toLowerCase()}_percent`, (a) => share(a, n) * 100, plainNumber),
      ),
      words("Release", "release", release),
      figures("Density", "density_kg_per_l", (a) => a.densityKgPerL ?? null, plainNumber),
      words("Organic", "organic", (a) => a.organic),
      words("Kind", "kind", (a) => a.kind ?? null),
      ...["analysis", "release", "density", "salt_index"].map(standing),
      words("Source", "source", (a) => origins.get(a.id)?.source ?? null),
    ],
    (a) => ({ ...a, ...origins.get(a.id) }),
  );
}

/** A crop recipe as its file says it. */
interface Crop {
  readonly recipe: string;
  readonly crop: string;
  readonly seasonDays: number;
  /** As written. */
  readonly yield: string | null;
  /** As written: `per`, and an amount or a range for each nutrient. */
  readonly need: Readonly<Record<string, unknown>>;
  readonly source: string | null;
  /** How well need, most of nitrogen, timing and spacing are known. */
  readonly standing: Readonly<Record<string, unknown>>;
  /** As written. */
  readonly spacing: Readonly<Record<string, unknown>> | null;
}

async function listCrops(context: Context, search: string): Promise<Result<Listing>> {
  const { loadTarget } = await import("../files/load.ts");
  const { isRecord } = await import("../files/source.ts");
  const at = where(context);
  const folder = resolve(at.recipesDir, "crops");
  const crops: Crop[] = [];
  for (const recipe of shippedNames(context, "crops")) {
    const loaded = loadTarget(context.files, resolve(folder, `${recipe}.yaml`), at);
    if (!loaded.ok) return loaded;
    const { name, seasonDays, at: file } = loaded.value.target;
    const need = file.written("need");
    const harvest = file.written("yield");
    const source = file.written("source");
    const standing = file.written("standing");
    const spacing = file.written("spacing");
    crops.push({
      recipe,
      crop: name,
      seasonDays,
      yield: typeof harvest === "string" ? harvest : null,
      need: isRecord(need) ? need : {},
      source: typeof source === "string" ? source.trim() : null,
      standing: isRecord(standing) ? standing : {},
      spacing: isRecord(spacing) ? spacing : null,
    });
  }
  const amount = (value: unknown): string => {
    if (!isRecord(value)) return String(value);
    const { min, max } = value;
    if (min === undefined) return `at most ${String(max)}`;
    return max === undefined ? String(min) : `${String(min)} to ${String(max)}`;
  };
  const needs = ({ need }: Crop) => {
    const parts = Object.entries(need).filter(([key]) => key !== "per" && key !== "source" && key !== "note");
    return `${parts.map(([key, value]) => `${key} ${amount(value)}`).join(", ")} per ${String(need.per)}`;
  };
  const known = ({ standing }: Crop, about: string) =>
    typeof standing[about] === "string" ? standing[about] : null;
  const columns: readonly ColumnOf<Crop>[] = [
    words("Recipe", "recipe", (c) => c.recipe),
    words("Crop", "crop", (c) => c.crop),
    figures("Days", "season_days", (c) => c.seasonDays, plainNumber),
    words("Yield", "yield", (c) => c.yield),
    words("Needs over the season", "need", needs),
    words("Need is", "need_standing", (c) => known(c, "need")),
  ];
  return listing(
    crops,
    search,
    {
      one: "crop",
      many: "crops",
      note: "Use one with --recipe or `target: {recipe: name}`. A need was read in the publication that its source names, is a judgement based on such, or is from memory. Sources are in --format csv and json.",
    },
    columns,
    [
      ...columns,
      ...["most", "timing", "spacing"].map((about) =>
        words<Crop>(`${about} is`, `${about}_standing`, (c) => known(c, about)),
      ),
      words("In row", "in_row", (c) => (c.spacing ? String(c.spacing.in_row) : null)),
      words("Between rows", "between_rows", (c) => (c.spacing ? String(c.spacing.rows) : null)),
      words("Source", "source", (c) => c.source),
    ],
    (crop) => crop,
  );
}

/** Days after an application for which the shares of a release class are shown. */
const RELEASE_DAYS = [7, 14, 28, 56, 112];

async function listReleases(_context: Context, search: string): Promise<Result<Listing>> {
  const { RELEASE_CLASSES } = await import("../files/release-classes.ts");
  const { availableAfter } = await import("../season/release.ts");
  const classes = Object.entries(RELEASE_CLASSES).map(([name, entry]) => ({ name, ...entry }));
  type Entry = (typeof classes)[number];
  const shares = RELEASE_DAYS.map((days) =>
    figures<Entry>(`${days} days`, `share_after_${days}_days`, (c) => availableAfter(c.curve, days), percent),
  );
  return listing(
    classes,
    search,
    {
      one: "release class",
      many: "release classes",
      note: "Share of the label's content that has become available, in soil at the reference temperature of the class.",
    },
    [
      words("Class", "class", (c) => c.name),
      ...shares,
      words("What belongs in it", "summary", (c) => c.summary),
    ],
    [
      words("Class", "class", (c) => c.name),
      ...shares,
      figures("Q10", "q10", (c) => c.curve.q10, plainNumber),
      figures("Reference", "reference_c", (c) => c.curve.referenceC, plainNumber),
      words("Summary", "summary", (c) => c.summary),
      words("Source", "source", (c) => c.source),
    ],
    ({ name, curve, summary, source }) => ({ class: name, curve, summary, source }),
  );
}

/** What a number in SI is counted in. */
const SI_UNITS: Readonly<Record<string, string>> = {
  mass: "kg",
  area: "m2",
  length: "m",
  volume: "L",
  time: "days",
  temperature: "C",
  share: "of 1",
};

async function listUnits(_context: Context, search: string): Promise<Result<Listing>> {
  const { DIMENSION_WORDS, UNITS } = await import("../units.ts");
  type Unit = (typeof UNITS)[number];
  const exact = (unit: Unit) => `${plainNumber(unit.factor)} ${SI_UNITS[unit.dimension] ?? ""}`;
  const columns: readonly ColumnOf<Unit>[] = [
    words("Unit", "unit", (unit) => unit.id),
    words("For", "dimension", (unit) => DIMENSION_WORDS[unit.dimension].noun),
    words("One is", "si", (unit) => (unit.offset === undefined ? exact(unit) : null)),
    words("May also be written", "spellings", (unit) => unit.spellings.join(", ")),
  ];
  return listing(
    UNITS,
    search,
    {
      one: "unit",
      many: "units",
      note: "Capitals, full stops and spaces do not matter. A density, a rate or a price is two units with a slash: `38 lb/cu ft`, `4 lb/1000 sq ft`, `1.20/lb`.",
    },
    columns,
    [...columns, words("Source", "source", (unit) => unit.source)],
    ({ id, dimension, factor, offset, spellings, source }) => ({
      unit: id,
      dimension,
      factor,
      offset: offset ?? 0,
      spellings,
      source,
    }),
  );
}

/** The thresholds that a plan may set under `thresholds`. */
async function listCautions(context: Context, search: string): Promise<Result<Listing>> {
  const { CAUTION_THRESHOLDS } = await import("../files/caution-thresholds.ts");
  const { thresholdWords } = await import("../words/cautions.ts");
  const codes = Object.keys(CAUTION_THRESHOLDS) as (keyof typeof CAUTION_THRESHOLDS)[];
  const entries = codes.map((code) => ({ code, ...CAUTION_THRESHOLDS[code] }));
  const units = context.flags.units ?? "us";
  const usual = (entry: (typeof entries)[number]) => thresholdWords(entry.value, entry.code, units);
  return listing(
    entries,
    search,
    {
      one: "threshold",
      many: "thresholds",
      note: "A plan may set its own: `thresholds: {boron: 1 lb/acre}`. To be warned later than usual is allowed and said in the output. Sources are in --format csv and json.",
    },
    [
      words("Threshold", "threshold", (entry) => entry.code),
      words("Usual", "usual", usual),
      words("Of what", "of_what", (entry) => entry.what),
    ],
    [
      words("Threshold", "threshold", (entry) => entry.code),
      words("Usual", "usual", usual),
      figures("Value", "value_si", (entry) => entry.value, plainNumber),
      words("Stricter", "stricter", (entry) => entry.stricter),
      words("Of what", "of_what", (entry) => entry.what),
      words("Source", "source", (entry) => entry.source),
    ],
    (entry) => ({ ...entry, usual: usual(entry) }),
  );
}

/** How much things vary where no file says otherwise, one row for each kind of material, release or other cause. */
async function listVaries(_context: Context, search: string): Promise<Result<Listing>> {
  const defaults = await import("../files/spread-defaults.ts");
  const { KIND_SPREADS, RELEASE_SPREADS, SEASON_SPREADS, LABORATORY_SPREAD } = defaults;
  interface Entry {
    readonly what: string;
    readonly byNutrient: Readonly<Partial<Record<(typeof NUTRIENTS)[number], number>>>;
    readonly other: string;
    readonly source: string;
  }
  const entries: Entry[] = [
    ...Object.entries(KIND_SPREADS).map(([kind, { byNutrient, other, source }]) => ({
      what: `analysis: ${kind === "unknown" ? "no kind given" : kind}`,
      byNutrient,
      other: percent(other),
      source,
    })),
    { what: "analysis by a laboratory", ...LABORATORY_SPREAD, other: percent(LABORATORY_SPREAD.other) },
    ...Object.entries(RELEASE_SPREADS).map(([name, { cv, source }]) => ({
      what: `release: ${name}`,
      byNutrient: {},
      other: percent(cv),
      source,
    })),
    ...(["releases", "spreading", "credit"] as const).map((name) => ({
      what: { releases: "all releases together", spreading: "a round of spreading", credit: "a credit" }[
        name
      ],
      byNutrient: {},
      other: percent(SEASON_SPREADS[name].cv),
      source: SEASON_SPREADS[name].source,
    })),
    {
      what: "a season's soil temperature",
      byNutrient: {},
      other: `${plainNumber(SEASON_SPREADS.soilTemperatureC.sd)} C`,
      source: SEASON_SPREADS.soilTemperatureC.source,
    },
  ];
  const of = (nutrient: "N" | "P2O5" | "K2O") =>
    figures<Entry>(
      nutrient,
      nutrient.toLowerCase(),
      (entry) => entry.byNutrient[nutrient] ?? null,
      (value) => percent(value),
    );
  const columns = [
    words<Entry>("What", "what", (entry) => entry.what),
    of("N"),
    of("P2O5"),
    of("K2O"),
    words<Entry>("The rest", "other", (entry) => entry.other),
  ];
  return listing(
    entries,
    search,
    {
      one: "spread",
      many: "spreads",
      note: "Two lots, or seasons, in three lie within this. Files may say better: `varies: 8%`, and `kinds: {compost: {varies: 30%}}`. Sources, and which figures are a judgement, are in --format csv and json.",
    },
    columns,
    [...columns, words("Source", "source", (entry) => entry.source)],
    (entry) => entry,
  );
}
