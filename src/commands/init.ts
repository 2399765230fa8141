/** `init`: starter files to edit. Asks what it must know, or takes it from flags; never overwrites. */
import { basename, dirname, join, relative, resolve } from "node:path";
import type { CropFacts, StarterFile, StarterKind } from "../files/starter.ts";
import { parseNumber } from "../numerals.ts";
import { faultText, guess } from "../problem.ts";
import { bullets, fullTableOf, paragraph, type Report, words } from "../report/report.ts";
import type { Answers, InitResult } from "../results/listing.ts";
import { type Dimension, parseQuantity, toSi } from "../units.ts";
import { counted, howMany, listed } from "../words/numbers.ts";
import { type Asker, type Choice, terminalAsker } from "./ask.ts";
import {
  type Command,
  type CommandOutput,
  type Context,
  EXIT,
  type Options,
  textOption,
  UsageError,
} from "./command.ts";
import { camelCase, idsOption, where } from "./plan-options.ts";
import { type ShippedCrop, shippedAmendments, shippedCrops, shippedNames } from "./shipped.ts";

export const command: Command = {
  aliases: { crop: "recipe", temperature: "soil-temperature", amendments: "only" },
  arguments: [["[dir]", "the folder to write into (default: this one)"]],
  flags: [
    ["--recipe <name>", "what to grow: a shipped recipe (see `list crops`)"],
    ["--area <area>", 'area of the bed: "1500 sq ft"'],
    ["--plants <count>", "how many plants are in the bed"],
    ["--yield <rate>", 'yield to feed for: "25 t/ha"'],
    ["--currency <code>", "currency of the prices: USD, EUR, ..."],
    ["--soil-temperature <temp>", 'of the soil, mean over the season: "18 C"'],
    ["--applications <count>", "how many times the blend is spread"],
    ["--batch <size>", 'what one batch holds: "60 lb" or "6 cu ft"'],
    ["--only <ids>", "shipped amendments to begin with: a,b (see `list amendments`)", "repeated"],
    ["--farm", "a farm to begin with, for many beds, in place of a plan"],
    ["--after <season>", "next year's plan: stock as left, prices as paid, what still releases as credits"],
    ["--yes", "ask nothing; use the usual answer where no flag gives one"],
  ],
  notes: [
    "Writes plan.yaml, amendments.yaml, mix.yaml and schemas for your editor; with",
    "--farm farm.yaml and no mix. Nothing that is there already is overwritten. Where",
    "there is nobody to ask, --recipe and --area must be given:",
    '  barrowmix init garden --recipe tomato --area "1500 sq ft" --plants 240 --yes',
  ],

  run: async ([dir], options, context) => {
    const after = textOption(options, "after");
    if (after === undefined) return initWith(dir, options, context, terminalAsker);
    const others = Object.keys(options).filter((key) => OF_A_START.has(key));
    if (others.length > 0)
      throw new UsageError(
        `--after takes bed and crop from last year's plan; without --${others[0]!.replace(/[A-Z]/g, (sign) => `-${sign.toLowerCase()}`)}, then change them in the plan that is written`,
      );
    return (await import("./init-after.ts")).initAfter(dir, after, context);
  },
};

/** Flags that say what `init` begins with where there is no season before. */
const OF_A_START = new Set(
  "recipe area plants yield currency soilTemperature applications batch only farm".split(" "),
);

/**
 * Runs `init`.
 * @param asking makes the one who asks; called only where there is a person to ask.
 */
export async function initWith(
  dir: unknown,
  options: Options,
  context: Context,
  asking: () => Promise<Asker>,
): Promise<CommandOutput> {
  const { world } = context;
  const folder = resolve(world.cwd, typeof dir === "string" ? dir : ".");
  const shown = relative(world.cwd, folder) || ".";
  const starter = await import("../files/starter.ts");
  const { jsonSchema } = await import("../files/schema/json-schema.ts");

  const kinds: readonly StarterKind[] = starter.STARTER_KINDS[options.farm === true ? "farm" : "plan"];
  const paths = [
    ...kinds.map((kind) => `${kind}.yaml`),
    ...kinds.map((kind) => `${starter.SCHEMA_FOLDER}/${kind}.schema.json`),
  ];
  const there = paths.filter((path) =>
    world.files.list(dirname(join(folder, path))).includes(basename(path)),
  );
  if (there.length > 0)
    throw new UsageError(
      `${listed(there.map((path) => join(shown, path)))} ${there.length === 1 ? "is" : "are"} there already, and nothing is overwritten; nothing was written. Name another folder, or move ${there.length === 1 ? "it" : "them"} away.`,
    );

  const crops = (await shippedCrops(context)).map(cropRecipe);
  const answers = await answersOf(options, context, crops, asking);
  const crop = crops.find((c) => c.recipe === answers.crop)!;
  const entries = new Map(shippedTexts(context).flatMap((text) => [...starter.entriesOf(text)]));
  const schemas = Object.fromEntries(kinds.map((kind) => [kind, jsonSchema(kind)]));
  const files = starter.starterFiles(answers, crop, entries, schemas);

  world.files.makeNew(new Map(files.map(({ path, text }) => [join(folder, path), text])));
  const written = files.map(({ path }) => join(shown, path));
  return {
    exitCode: EXIT.done,
    json: { schema: "barrowmix.init/1", folder: shown, files: written, answers } satisfies InitResult,
    report: () => initReport(shown, files, crop),
    remarks: [`Wrote ${counted(written.length, "file")}.`],
  };
}

interface CropRecipe extends CropFacts {
  readonly recipe: string;
}

function cropRecipe({ recipe, target }: ShippedCrop): CropRecipe {
  const { name, seasonDays, fields, at } = target;
  const harvest = at.written("yield");
  const { in_row: inRow, rows } = fields.spacing ?? {};
  return {
    recipe,
    name,
    seasonDays,
    yield: typeof harvest === "string" ? harvest : undefined,
    ...(inRow === undefined || rows === undefined
      ? {}
      : {
          spacing: {
            us: `${String(at.written("spacing", "in_row"))} x ${String(at.written("spacing", "rows"))}`,
            metric: `${centimetres(inRow)} x ${centimetres(rows)} cm`,
            plantM2: inRow * rows,
          },
        }),
  };
}

const centimetres = (m: number): number => Math.round(100 * m);

/** A yield as a recipe writes it, and in the grower's own units where those are others. */
function yieldWords(written: string | undefined, units: Answers["units"]): string {
  if (written === undefined) return "as the recipe says";
  const rate = parseQuantity(written, "rate");
  const unit = units === "us" ? "ton/acre" : "t/ha";
  if (!rate.ok || written.endsWith(unit)) return written;
  const perArea = units === "us" ? toSi(1, "ton") / toSi(1, "acre") : toSi(1, "t") / toSi(1, "ha");
  return `${written}, about ${Number((rate.value / perArea).toPrecision(2))} ${unit}`;
}

function shippedTexts(context: Context): readonly string[] {
  const { files } = context.world;
  const folder = resolve(where(context).recipesDir, "amendments");
  return shippedNames(context, "amendments")
    .filter((name) => name !== "all")
    .map((name) => files.read(resolve(folder, `${name}.yaml`)) ?? "");
}

type Check = (answer: string) => string | null;

function among(what: string, known: readonly string[], list: string): Check {
  return (answer) =>
    known.includes(answer)
      ? null
      : `there is no shipped ${what} \`${answer}\`; ${guess(answer, known, `\`barrowmix list ${list}\` shows them`)}`;
}

function wholeNumber(most: number): Check {
  return (answer) => {
    const number = parseNumber(answer);
    return number !== undefined && Number.isSafeInteger(number) && number >= 1 && number <= most
      ? null
      : `\`${answer}\` is not a whole number from 1 to ${most}`;
  };
}

/** A quantity of one of some dimensions; a fault is told of the first. */
function quantity(...dimensions: readonly [Dimension, ...Dimension[]]): Check {
  return (answer) => {
    const [first, ...others] = dimensions.map((dimension) =>
      parseQuantity(answer, dimension, dimension === "temperature" ? {} : { positive: true }),
    );
    return first!.ok || others.some(({ ok }) => ok) ? null : faultText(first!);
  };
}

const MANY = 1e9;

/** What each answer must be, whether a flag or a person gives it; by flag. */
function checksFor(crops: readonly string[], ids: readonly string[], mostApplications: number) {
  return {
    recipe: among("crop", crops, "crops"),
    area: quantity("area"),
    plants: wholeNumber(MANY),
    yield: quantity("rate"),
    currency: (answer: string) =>
      /^[A-Z]{3}$/.test(answer)
        ? null
        : `\`${answer}\` is not a currency: three capital letters, such as USD or EUR`,
    "soil-temperature": quantity("temperature"),
    applications: wholeNumber(mostApplications),
    batch: quantity("mass", "volume"),
    only: among("amendment", ids, "amendments"),
  } satisfies Record<string, Check>;
}
type Checks = ReturnType<typeof checksFor>;

function chosenIds(options: Options): readonly string[] | undefined {
  return options.only === undefined ? undefined : idsOption(options, "only");
}

/** The answers that flags give, each checked as an answer is. */
function fromFlags(options: Options, checks: Checks): Partial<Record<keyof Checks, string>> {
  const given: Partial<Record<keyof Checks, string>> = {};
  const refuse = (name: string, fault: string | null): void => {
    if (fault !== null) throw new UsageError(`--${name}: ${fault}`);
  };
  for (const [name, check] of Object.entries(checks)) {
    const value = textOption(options, camelCase(name))?.trim();
    if (value === undefined) continue;
    refuse(name, check(value));
    given[name as keyof Checks] = value;
  }
  const chosen = chosenIds(options);
  for (const id of chosen ?? []) refuse("only", checks.only(id));
  if (chosen?.length === 0) refuse("only", "name at least one, for instance feather-meal");
  return given;
}

const QUESTIONS: Readonly<Partial<Record<keyof Checks, string>>> = {
  currency: "Which currency are prices in?",
  "soil-temperature": "How warm is the soil, on average over the season?",
  applications: "How many times will the blend be spread?",
  batch: "How much does the barrow or mixer hold, by weight or volume?",
};

/** Everything that starter files are made from: from flags, from a person, or as usual. */
async function answersOf(
  options: Options,
  context: Context,
  crops: readonly CropRecipe[],
  asking: () => Promise<Asker>,
): Promise<Answers> {
  const { USUAL, USUAL_AMENDMENTS, USUAL_APPLICATIONS, USUAL_CURRENCY, MOST_APPLICATIONS } = await import(
    "../files/starter.ts"
  );
  const { world, flags } = context;
  const person = options.yes !== true && world.stdin.isTTY && world.stdout.isTTY;
  const lacking = ["recipe", "area"].filter((name) => textOption(options, camelCase(name)) === undefined);
  if (!person && lacking.length > 0)
    throw new UsageError(
      `this is not a terminal to ask questions in, so use flags: ${listed(lacking.map((name) => `--${name}`))} must be given; --plants, --yield, --units, --currency, --soil-temperature, --applications, --batch and --only may be`,
    );
  const shipped = await shippedAmendments(context);
  const checks = checksFor(
    crops.map((c) => c.recipe),
    shipped.map(({ id }) => id),
    MOST_APPLICATIONS,
  );
  // Every flag is looked at before the first question, so that a slip costs nobody their answers.
  const given = fromFlags(options, checks);
  const asker = person ? await asking() : undefined;
  const ask = async (name: keyof Checks, usual: string, question = QUESTIONS[name]!): Promise<string> =>
    given[name] ?? (asker ? await asker.text(question, usual, checks[name]) : usual);
  const askOptional = async (name: keyof Checks, question: string): Promise<string | undefined> => {
    const check: Check = (answer) => (answer === "" ? null : checks[name](answer));
    const answer = given[name] ?? (asker ? await asker.text(question, "", check) : "");
    return answer === "" ? undefined : answer;
  };

  const recipe = given.recipe ?? (await asker!.one("Which crop?", crops.map(cropChoice)));
  const crop = crops.find((c) => c.recipe === recipe);
  const asked = flags.units ?? (asker ? await asker.one("Which units?", UNIT_CHOICES, "us") : "us");
  const units = asked === "metric" ? "metric" : "us";
  const usual = USUAL[units];
  const area = await ask("area", "", `How large is the bed? (${units === "us" ? "1500 sq ft" : "150 m2"})`);
  const bed = parseQuantity(area, "area");
  const fit =
    crop?.spacing && bed.ok
      ? `${crop.spacing[units]} apart about ${howMany(bed.value / crop.spacing.plantM2)}; `
      : "";
  const plants = await askOptional("plants", `How many plants are in it? (${fit}empty: not counted)`);
  const goal = await askOptional(
    "yield",
    `Which yield should it feed for? (empty: ${yieldWords(crop?.yield, units)})`,
  );
  const currency = await ask("currency", USUAL_CURRENCY);
  const temperature = await ask("soil-temperature", usual.temperature);
  const applications = await ask("applications", String(USUAL_APPLICATIONS));
  const batch = await ask("batch", usual.batch);
  const choices = shipped.map(
    (a): Choice => ({ value: a.id, name: a.name, chosen: USUAL_AMENDMENTS.includes(a.id) }),
  );
  const amendments =
    chosenIds(options) ??
    (asker ? await asker.several("Which amendments can you get?", choices) : USUAL_AMENDMENTS);
  return {
    crop: recipe,
    units,
    currency,
    area: plainQuantity(area),
    plants: plants === undefined ? undefined : parseNumber(plants),
    yield: goal === undefined ? undefined : plainQuantity(goal),
    temperature,
    applications: parseNumber(applications) ?? USUAL_APPLICATIONS,
    batch: plainQuantity(batch),
    amendments,
  };
}

const cropChoice = ({ recipe, name }: CropRecipe): Choice => ({ value: recipe, name });
const UNIT_CHOICES: readonly Choice[] = [
  { value: "us", name: "US: pounds, cups, feet" },
  { value: "metric", name: "metric: kilograms, litres, metres" },
];

/** A comma between thousands would end the value inside braces. */
function plainQuantity(text: string): string {
  return text.replace(/(\d),(?=\d{3})/g, "$1");
}

function initReport(shown: string, files: readonly StarterFile[], crop: CropFacts): Report {
  const at = (name: string) => (shown === "." ? name : join(shown, name));
  const about: Readonly<Record<string, string>> = {
    "plan.yaml": `the plan: ${crop.name}`,
    "farm.yaml": `the farm, with a first bed: ${crop.name}`,
    "amendments.yaml": "what can be bought; the prices are placeholders",
    "mix.yaml": "an example of a mix as you make it today",
  };
  return {
    title: `Starter files in ${shown === "." ? "this folder" : shown}`,
    summary: [
      bullets([
        ...files.filter(({ path }) => path in about).map(({ path }) => `${at(path)}: ${about[path]}`),
        `${at("schemas")}: lets your editor complete and check these files`,
      ]),
      paragraph(
        `Next: barrowmix solve ${at(files[0]!.path)}. Before you act on a cost, put your own prices into ${at("amendments.yaml")}.`,
      ),
    ],
    sections: [],
    csv: fullTableOf(files, [words("File", "file", (file) => at(file.path))]),
  };
}
