/** `list`: what ships with the program, and what may be written in its files. */
import type { Amendment, NutrientMap } from "../model.ts";
import { NUTRIENTS, type Nutrient } from "../nutrients.ts";
import {
  type ColumnOf,
  figures,
  fullTableOf,
  paragraph,
  type Report,
  table,
  words,
} from "../report/report.ts";
import type { ListResult } from "../results/listing.ts";
import { counted, listed, percent, plainNumber } from "../words/numbers.ts";
import {
  type Command,
  type CommandOutput,
  type Context,
  EXIT,
  oneOf,
  textOption,
  unwrap,
} from "./command.ts";
import { loadShipped, shippedCrops } from "./shipped.ts";

const TOPICS = ["amendments", "crops", "releases", "units", "cautions", "varies"] as const;

/** A list, of which only the entries that hold some words are said: a value for each of them, and their report. */
type Listing = (search: string) => { readonly items: readonly object[]; readonly report: () => Report };

const LISTS: Readonly<Record<(typeof TOPICS)[number], (context: Context) => Promise<Listing>>> = {
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

  async run([what], options, context): Promise<CommandOutput> {
    const list = oneOf(TOPICS, what, "there is no list of");
    const listing = await LISTS[list](context);
    const { items, report } = listing(textOption(options, "search") ?? "");
    return {
      exitCode: EXIT.done,
      json: { schema: "barrowmix.list/1", list, items } satisfies ListResult,
      report,
    };
  },
};

/**
 * Lays entries out, to be searched by every text that their columns hold.
 * @param names what one entry and several (where that is more than an `s`) are called, and what is said below them.
 * @param shown the columns for people, which must fit a screen; `whole` those of CSV.
 * @param json an entry as JSON says it; absent: as it is.
 */
function listing<T extends object>(
  entries: readonly T[],
  names: { readonly one: string; readonly many?: string; readonly note: string },
  shown: readonly ColumnOf<T>[],
  whole: readonly ColumnOf<T>[],
  json: (entry: T) => object = (entry) => entry,
): Listing {
  const textOf = (entry: T): string =>
    [...shown, ...whole].map((column) => column.fill(entry)?.text.toLowerCase() ?? "").join("\n");
  return (search) => {
    // Every word must be found, each in whatever column.
    const wanted = search.toLowerCase().split(/\s+/);
    const kept = entries.filter((entry) => wanted.every((word) => textOf(entry).includes(word)));
    const found = search === "" ? "" : ` with "${search}"`;
    return {
      items: kept.map(json),
      report: () => ({
        title: `${counted(kept.length, names.one, names.many)}${found}`,
        summary: [...(kept.length > 0 ? [table(kept, shown)] : []), paragraph(names.note, "faint")],
        sections: [],
        csv: fullTableOf(kept, whole),
      }),
    };
  };
}

const SOURCE = words<{ readonly source: string | null }>("Source", "source", ({ source }) => source);

async function listAmendments(context: Context): Promise<Listing> {
  const { amendments, origins } = unwrap(await loadShipped(context));
  const share = (a: Amendment, nutrient: Nutrient) => a.analysis[nutrient] ?? 0;
  const grade = (a: Amendment) =>
    MAIN.map((nutrient) => plainNumber(Math.round(share(a, nutrient) * 1000) / 10)).join("-");
  const others = (a: Amendment) =>
    NUTRIENTS.filter((n) => !MAIN.includes(n) && share(a, n) > 0)
      .map((n) => `${n} ${plainNumber(share(a, n) * 100)}`)
      .join(", ");
  const standing = (about: string) =>
    words<Amendment>(`${about} is`, `${about}_standing`, (a) => origins.get(a.id)?.standing[about] ?? null);
  const mark = (a: Amendment) =>
    ({ memory: " m", computed: " c" })[String(origins.get(a.id)?.standing.analysis)] ?? "";
  const id = words<Amendment>("Id", "id", (a) => a.id);
  const name = words<Amendment>("Name", "name", (a) => a.name);
  const release = words<Amendment>(
    "Release",
    "release",
    (a) => (a.release.byNutrient.N ?? a.release.other).label,
  );
  return listing(
    amendments,
    {
      one: "amendment",
      note: "Analyses in percent by weight, here to the tenth, as the publication named as source prints them; c: computed from such, m: from memory. The label of the bag you buy comes first. Prices are placeholders. Sources are in --format csv and json.",
    },
    [
      id,
      name,
      words("N-P2O5-K2O", "grade", (a) => grade(a) + mark(a)),
      words("Others", "others", others),
      release,
    ],
    [
      id,
      name,
      ...NUTRIENTS.map((n) =>
        figures<Amendment>(n, `${n.toLowerCase()}_percent`, (a) => share(a, n) * 100, plainNumber),
      ),
      release,
      figures("Density", "density_kg_per_l", (a) => a.densityKgPerL ?? null, plainNumber),
      words("Organic", "organic", (a) => a.organic),
      words("Kind", "kind", (a) => a.kind ?? null),
      ...["analysis", "release", "density", "salt_index"].map(standing),
      words("Source", "source", (a) => origins.get(a.id)?.source ?? null),
    ],
    (a) => ({ ...a, ...origins.get(a.id) }),
  );
}

const MAIN: readonly Nutrient[] = ["N", "P2O5", "K2O"];

async function listCrops(context: Context): Promise<Listing> {
  const shipped = await shippedCrops(context);
  const { isRecord } = await import("../files/source.ts");
  // Texts as the recipes write them, and maps of such.
  const text = (value: unknown) => (typeof value === "string" ? value.trim() : null);
  const map = (value: unknown) => (isRecord(value) ? value : null);
  const crops = shipped.map(({ recipe, target }) => ({
    recipe,
    crop: target.name,
    seasonDays: target.seasonDays,
    yield: text(target.at.written("yield")),
    /** `per`, and an amount or a range for each nutrient. */
    need: map(target.at.written("need")) ?? {},
    source: text(target.at.written("source")),
    /** How well need, most of nitrogen, timing and spacing are known. */
    standing: map(target.at.written("standing")) ?? {},
    spacing: map(target.at.written("spacing")),
  }));
  type Crop = (typeof crops)[number];
  const amount = (value: unknown): string => {
    if (!isRecord(value)) return String(value);
    const { min, max } = value;
    if (min === undefined) return `at most ${String(max)}`;
    return max === undefined ? String(min) : `${String(min)} to ${String(max)}`;
  };
  const needs = ({ need: { per, source: _, note: __, ...amounts } }: Crop) => {
    const parts = Object.entries(amounts).map(([nutrient, value]) => `${nutrient} ${amount(value)}`);
    return `${parts.join(", ")} per ${String(per)}`;
  };
  const columns: readonly ColumnOf<Crop>[] = [
    words("Recipe", "recipe", (c) => c.recipe),
    words("Crop", "crop", (c) => c.crop),
    figures("Days", "season_days", (c) => c.seasonDays, plainNumber),
    words("Yield", "yield", (c) => c.yield),
    words("Needs over the season", "need", needs),
    words("Need is", "need_standing", (c) => text(c.standing.need)),
  ];
  return listing(
    crops,
    {
      one: "crop",
      note: "Use one with --recipe or `target: {recipe: name}`. A need was read in the publication that its source names, is a judgement based on such, or is from memory. Sources are in --format csv and json.",
    },
    columns,
    [
      ...columns,
      ...["most", "timing", "spacing"].map((about) =>
        words<Crop>(`${about} is`, `${about}_standing`, (c) => text(c.standing[about])),
      ),
      words("In row", "in_row", (c) => (c.spacing ? String(c.spacing.in_row) : null)),
      words("Between rows", "between_rows", (c) => (c.spacing ? String(c.spacing.rows) : null)),
      SOURCE,
    ],
  );
}

const RELEASE_DAYS = [7, 14, 28, 56, 112];

async function listReleases(): Promise<Listing> {
  const { RELEASE_CLASSES } = await import("../files/release-classes.ts");
  const { availableAfter } = await import("../season/release.ts");
  const classes = Object.entries(RELEASE_CLASSES).map(([name, { curve, summary, source }]) => ({
    class: name,
    curve,
    summary,
    source,
  }));
  type Entry = (typeof classes)[number];
  const shares = [
    words<Entry>("Class", "class", (c) => c.class),
    ...RELEASE_DAYS.map((days) =>
      figures<Entry>(
        `${days} days`,
        `share_after_${days}_days`,
        (c) => availableAfter(c.curve, days),
        percent,
      ),
    ),
  ];
  return listing(
    classes,
    {
      one: "release class",
      many: "release classes",
      note: "Share of the label's content that has become available, in soil at the reference temperature of the class.",
    },
    [...shares, words("What belongs in it", "summary", (c) => c.summary)],
    [
      ...shares,
      figures("Q10", "q10", (c) => c.curve.q10, plainNumber),
      figures("Reference", "reference_c", (c) => c.curve.referenceC, plainNumber),
      words("Summary", "summary", (c) => c.summary),
      SOURCE,
    ],
  );
}

const SI_UNITS: Readonly<Record<string, string>> = {
  mass: "kg",
  area: "m2",
  length: "m",
  volume: "L",
  time: "days",
  temperature: "C",
  share: "of 1",
};

async function listUnits(): Promise<Listing> {
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
    {
      one: "unit",
      note: "Capitals, full stops and spaces do not matter. A density, a rate or a price is two units with a slash: `38 lb/cu ft`, `4 lb/1000 sq ft`, `1.20/lb`.",
    },
    columns,
    [...columns, SOURCE],
    ({ id, dimension, factor, offset = 0, spellings, source }) => ({
      unit: id,
      dimension,
      factor,
      offset,
      spellings,
      source,
    }),
  );
}

/** The thresholds that a plan may set under `thresholds`. */
async function listCautions({ flags }: Context): Promise<Listing> {
  const { CAUTION_THRESHOLDS } = await import("../files/caution-thresholds.ts");
  const { thresholdWords } = await import("../words/caution-scene.ts");
  const codes = Object.keys(CAUTION_THRESHOLDS) as (keyof typeof CAUTION_THRESHOLDS)[];
  const entries = codes.map((code) => {
    const threshold = CAUTION_THRESHOLDS[code];
    return { code, ...threshold, usual: thresholdWords(threshold.value, code, flags.units ?? "us") };
  });
  type Entry = (typeof entries)[number];
  const threshold = words<Entry>("Threshold", "threshold", (entry) => entry.code);
  const usual = words<Entry>("Usual", "usual", (entry) => entry.usual);
  const ofWhat = words<Entry>("Of what", "of_what", (entry) => entry.what);
  return listing(
    entries,
    {
      one: "threshold",
      note: "A plan may set its own: `thresholds: {boron: 1 lb/acre}`. To be warned later than usual is allowed and said in the output. Sources are in --format csv and json.",
    },
    [threshold, usual, ofWhat],
    [
      threshold,
      usual,
      figures("Value", "value_si", (entry) => entry.value, plainNumber),
      words("Stricter", "stricter", (entry) => entry.stricter),
      ofWhat,
      SOURCE,
    ],
  );
}

/** How much things vary where no file says otherwise, one row for each kind of material, release or other cause. */
async function listVaries(): Promise<Listing> {
  const defaults = await import("../files/spread-defaults.ts");
  const { KIND_SPREADS, RELEASE_SPREADS, SEASON_SPREADS, LABORATORY_SPREAD } = defaults;
  const { releases, spreading, credit, soilTemperatureC } = SEASON_SPREADS;
  const row = (what: string, other: string, source: string, byNutrient: NutrientMap = {}) => ({
    what,
    byNutrient,
    other,
    source,
  });
  const { byNutrient, other, source } = LABORATORY_SPREAD;
  const entries = [
    ...Object.entries(KIND_SPREADS).map(([kind, spread]) =>
      row(
        `analysis: ${kind === "unknown" ? "no kind given" : kind}`,
        percent(spread.other),
        spread.source,
        spread.byNutrient,
      ),
    ),
    row("analysis by a laboratory", percent(other), source, byNutrient),
    ...Object.entries(RELEASE_SPREADS).map(([name, { cv, source }]) =>
      row(`release: ${name}`, percent(cv), source),
    ),
    row("all releases together", percent(releases.cv), releases.source),
    row("a round of spreading", percent(spreading.cv), spreading.source),
    row("a credit", percent(credit.cv), credit.source),
    row("a season's soil temperature", `${plainNumber(soilTemperatureC.sd)} C`, soilTemperatureC.source),
  ];
  type Entry = (typeof entries)[number];
  const columns = [
    words<Entry>("What", "what", (entry) => entry.what),
    ...MAIN.map((nutrient) =>
      figures<Entry>(
        nutrient,
        nutrient.toLowerCase(),
        (entry) => entry.byNutrient[nutrient] ?? null,
        (value) => percent(value),
      ),
    ),
    words<Entry>("The rest", "other", (entry) => entry.other),
  ];
  return listing(
    entries,
    {
      one: "spread",
      note: "Two lots, or seasons, in three lie within this. Files may say better: `varies: 8%`, and `kinds: {compost: {varies: 30%}}`. Sources, and which figures are a judgement, are in --format csv and json.",
    },
    columns,
    [...columns, SOURCE],
  );
}
