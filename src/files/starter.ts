/**
 * Starter files: a plan, amendments and a mix with comments, as text, from a few answers. Nothing is read or written here.
 */
import type { Answers } from "../results/listing.ts";
import { fromSi } from "../units.ts";

/** What the recipe says, as far as starter files repeat it. */
export interface CropFacts {
  readonly name: string;
  readonly seasonDays: number;
  /** As written. */
  readonly yield: string | undefined;
  /** How far apart plants usually are, in words, and the ground of one in m2. */
  readonly spacing?: { readonly us: string; readonly metric: string; readonly plantM2: number };
}

/** A file to be written; the path is relative to the folder. */
export interface StarterFile {
  readonly path: string;
  readonly text: string;
}

/** Where the schemas for the editor lie. */
export const SCHEMA_FOLDER = "schemas";
/** Kinds of file in a starter folder, each with a schema: for one bed, and for a farm. */
export const STARTER_KINDS = { plan: ["plan", "amendments", "mix"], farm: ["farm", "amendments"] } as const;

/**
 * A choice that meets the need of every shipped crop without materials that change the pH of the soil or that the organic
 * rule bars or restricts: a judgement, since with invented prices the cheapest of everything may be none that one would spread.
 */
export const USUAL_AMENDMENTS: readonly string[] = [
  "alfalfa-meal",
  "blood-meal",
  "bone-meal",
  "feather-meal",
  "kelp-meal",
  "langbeinite",
  "potassium-sulfate",
  "poultry-pellets",
  "soybean-meal",
];

/** Something for each of N, P and K, from which the example of a mix is made where it was chosen. */
const EXAMPLE_MIX: readonly string[] = ["poultry-pellets", "feather-meal", "potassium-sulfate"];

/** What is taken where nothing is said. */
export const USUAL: Readonly<
  Record<"us" | "metric", { readonly batch: string; readonly temperature: string; readonly scale: string }>
> = {
  us: { batch: "60 lb", temperature: "65 F", scale: "0.1 lb" },
  metric: { batch: "25 kg", temperature: "18 C", scale: "50 g" },
};
export const USUAL_CURRENCY = "USD";
export const USUAL_APPLICATIONS = 3;
/** More would be a starter file that nobody reads. */
export const MOST_APPLICATIONS = 12;

/**
 * Cuts single entries out of a shipped amendments file, as they are there.
 * @returns text by id, each ending with a line break.
 */
export function entriesOf(yaml: string): ReadonlyMap<string, string> {
  const entries = new Map<string, string>();
  const body = yaml.slice(yaml.search(/^amendments:/m));
  for (const part of body.split(/^(?= {2}[a-z0-9-]+:)/m).slice(1))
    entries.set(part.slice(2, part.indexOf(":")), `${part.trimEnd()}\n`);
  return entries;
}

const schemaFile = (kind: string): string => `${SCHEMA_FOLDER}/${kind}.schema.json`;
const modeline = (kind: string): string => `# yaml-language-server: $schema=${schemaFile(kind)}`;

/**
 * The files of a starter folder.
 * @param entries text of the shipped amendments by id; those of `answers.amendments` must be there.
 * @param schemas JSON Schemas by kind.
 */
export function starterFiles(
  answers: Answers,
  crop: CropFacts,
  entries: ReadonlyMap<string, string>,
  schemas: Readonly<Partial<Record<StarterKind, object>>>,
): readonly StarterFile[] {
  const kinds = Object.keys(schemas) as StarterKind[];
  const texts = {
    plan: () => planText(answers, crop),
    farm: () => farmText(answers, crop),
    amendments: () => amendmentsText(answers, entries),
    mix: () => mixText(answers),
  };
  return [
    ...kinds.map((kind) => ({ path: `${kind}.yaml`, text: texts[kind]() })),
    ...kinds.map((kind) => ({ path: schemaFile(kind), text: `${JSON.stringify(schemas[kind])}\n` })),
  ];
}

/** A kind of file in a starter folder. */
export type StarterKind = (typeof STARTER_KINDS)[keyof typeof STARTER_KINDS][number];

/** Days on which the mix is spread: evenly over the first 60 percent of the season (a judgement), whole days. */
export function applicationDays(count: number, seasonDays: number): readonly number[] {
  return Array.from({ length: count }, (_, i) => Math.round((i * 0.6 * seasonDays) / count));
}

function planText(answers: Answers, crop: CropFacts): string {
  const { units, area, plants } = answers;
  const days = applicationDays(answers.applications, crop.seasonDays);
  const applications = days.map(
    (day, i) => `  - {name: ${i === 0 ? "planting" : `day ${day}`}, day: ${day}}`,
  );
  const usual = crop.yield ?? (units === "us" ? "10 ton/acre" : "25 t/ha");
  const per = units === "us" ? "1000 sq ft" : "ha";
  const [n, compost, credit] = units === "us" ? ["3 lb", "200 lb", "0.5 lb"] : ["150 kg", "10 t", "25 kg"];
  return [
    modeline("plan"),
    "# What is to be fed. Lines that begin with `#` are notes; take the sign away to use what they say.",
    `plan: ${crop.name}`,
    `currency: ${answers.currency}`,
    `units: ${units}`,
    "",
    "# What may go into the mix. Price lists of stores go before the prices there: `prices: [store.csv]`.",
    "amendments: amendments.yaml",
    "",
    "# What the crop needs over the season: a shipped recipe (`barrowmix list crops`), or a file of your own.",
    `recipe: ${answers.crop}`,
    answers.yield === undefined
      ? `# yield: ${usual}    # the harvest to feed for; the need grows and shrinks with it`
      : `yield: ${answers.yield}`,
    "",
    "# A soil test comes before the recipe. The laboratory's own recommendation is the best there is.",
    "# soil_test:",
    `#   recommends: {per: ${per}, N: ${n}}`,
    "",
    `bed: {area: ${area}${plants === undefined ? "" : `, plants: ${plants}`}}    # also rows and row_length`,
    ...(plants === undefined && crop.spacing ? [apart(crop.spacing[units])] : []),
    `soil_temperature: ${answers.temperature}    # mean over the season; cold soil gives more slowly`,
    "",
    "# What feeds the crop without the mix is taken off the need.",
    "# credits:",
    `#   - {from: compost, material: compost, spread: ${compost}, per: ${per}, day: -20}`,
    `#   - {from: well, nitrate_n: 8 mg/L, water: ${units === "us" ? "12 in}" : "300 mm}"}`,
    `#   - {from: last year's clover, per: ${per}, N: ${credit}, release: medium}`,
    "",
    "# When the mix is spread, in days from planting. The parts are equal, unless each says its share: `share: 40%`.",
    "applications:",
    ...applications,
    "",
    "# `one`: one recipe for all of them. `each`: a recipe for each, which is cheaper and more work.",
    "blend: one",
    `batch: ${answers.batch}    # what the barrow or mixer holds`,
    `scale: ${USUAL[units].scale}    # how finely you weigh`,
    "",
    "# Bounds on single amendments, as shares of the mix or as weights.",
    "# limits:",
    `#   ${answers.amendments[0]}: {max_share: 30%}`,
    "# simple: {most: 5}    # at most five amendments",
    "# harvest: {first: day 75, touches_soil: true}    # checks the interval after raw manure",
    "",
  ].join("\n");
}

function farmText(answers: Answers, crop: CropFacts): string {
  const { units, area, plants } = answers;
  const days = applicationDays(answers.applications, crop.seasonDays).join(", ");
  const counted = plants === undefined ? "" : `, plants: ${plants}`;
  const goal = answers.yield === undefined ? "" : `, yield: ${answers.yield}`;
  return [
    modeline("farm"),
    "# Beds that share a shed and few mixes. Lines that begin with `#` are notes; take the sign away to use what they say.",
    "farm: My farm",
    `currency: ${answers.currency}`,
    `units: ${units}`,
    "amendments: amendments.yaml    # one shed, one price list",
    "most_mixes: 2    # so many heaps are stirred at most; the answer says what fewer or more would cost",
    `batch: ${answers.batch}    # what the barrow or mixer holds`,
    `scale: ${USUAL[units].scale}    # how finely you weigh`,
    "",
    "# What is the same for several beds: any field of a plan, such as a soil test or credits.",
    "fields:",
    `  top field: {soil_temperature: ${answers.temperature}}`,
    "",
    "# Each bed: a recipe (`barrowmix list crops`) or a target, its size, its field, and the days on which it is fed.",
    "beds:",
    `  - {bed: ${answers.crop} 1, recipe: ${answers.crop}, area: ${area}${counted}${goal}, field: top field, rounds: [${days}]}`,
    `  # - {bed: kale, recipe: kale, area: ${area}, field: top field, rounds: [0, 30]}`,
    `  # - {bed: lettuce, recipe: lettuce, area: ${area}, beds_alike: 3, rounds: [0]}`,
    "",
  ].join("\n");
}

const apart = (spacing: string): string =>
  `# Plants are usually ${spacing} apart: say how many there are, and you see what each gets.`;

function amendmentsText(answers: Answers, entries: ReadonlyMap<string, string>): string {
  const chosen = [...entries.keys()].filter((id) => answers.amendments.includes(id));
  return [
    modeline("amendments"),
    "# What can be bought, with analysis and price.",
    "#",
    "# THE PRICES ARE PLACEHOLDERS: invented, so that a first plan runs. Put in what your suppliers ask and take the line",
    "# `placeholder: true` out, or name price lists in the plan: `prices: [store.csv]`. An answer that spends money on a",
    "# placeholder says so.",
    "# Analyses are typical; the label on your bag wins. Organic status is for your certifier to say.",
    "#",
    `# What you have already costs nothing: add \`stock: ${answers.units === "us" ? "12 lb" : "5 kg"}\` to its entry. \`barrowmix list amendments\` shows what else ships.`,
    "amendments:",
    chosen
      .map((id) => (answers.units === "metric" ? inMetricPacks(entries.get(id)!) : entries.get(id)))
      .join("\n"),
  ].join("\n");
}

/** Packs as they are sold in kilograms, for those in pounds of which that is not half as many. */
const METRIC_PACKS: Readonly<Record<string, number>> = { 25: 10, 5: 2.5, 1: 0.5 };

/** An entry with metric packs at the same price a kilogram, to the nearest half; all of them are placeholders. */
function inMetricPacks(entry: string): string {
  const perKg = (price: string): number => fromSi(Number(price), "lb");
  return entry
    .replace(/\{size: (\d+) lb, price: ([\d.]+)\}/g, (_, size: string, price: string) => {
      const kg = METRIC_PACKS[size] ?? Math.round(Number(size) / 2);
      const asked = (perKg(price) / Number(size)) * kg;
      return `{size: ${kg} kg, price: ${(Math.max(1, Math.round(asked * 2)) / 2).toFixed(2)}}`;
    })
    .replace(
      /\{price: ([\d.]+), per: lb\}/g,
      (_, price: string) => `{price: ${perKg(price).toFixed(2)}, per: kg}`,
    );
}

function mixText(answers: Answers): string {
  const { units, plants, amendments } = answers;
  const known = EXAMPLE_MIX.filter((id) => amendments.includes(id));
  const parts = known.length > 0 ? known : amendments.slice(0, 3);
  const [whole, unit] = units === "us" ? [60, "lb"] : [24, "kg"];
  const over = plants === undefined ? `area: ${answers.area}` : `plants: ${plants}`;
  return [
    modeline("mix"),
    "# A mix as you make it today, for `barrowmix assay mix.yaml --against plan.yaml`. This one is an example: put in your own.",
    "mix:",
    ...parts.map((id) => `  ${id}: ${whole / parts.length} ${unit}`),
    "",
    "amendments: amendments.yaml",
    `currency: ${answers.currency}`,
    `units: ${units}`,
    `spread: {batches: 1, ${over}, times: ${answers.applications}}    # how much of it goes where; or \`per_plant: 0.5 cup\` in place of \`batches\``,
    "",
  ].join("\n");
}
