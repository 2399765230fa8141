/** The assay of a mix as a report: its label, what is in it and how fast, what each plant gets, and the plan beside it. */
import type { AgainstPlan, Assay } from "../results/assay.ts";
import type { SolutionNutrient } from "../results/solution.ts";
import { fromSi } from "../units.ts";
import { scoop } from "../words/measures.ts";
import {
  counted,
  csvWeight,
  day,
  decimal,
  grams,
  handGrams,
  howMany,
  listed,
  money,
  percent,
  plainNumber,
  pricePerWeight,
  weight,
  weightBeside,
} from "../words/numbers.ts";
import { cautionSections } from "./caution-sections.ts";
import {
  type Block,
  bullets,
  type Cell,
  type ColumnOf,
  cash,
  cell,
  type Extent,
  extentOf,
  figures,
  fullTableOf,
  type Level,
  type LevelledSection,
  type LongReport,
  levelled,
  numberCell,
  paragraph,
  type Report,
  type Section,
  type Table,
  tableBlock,
  tableOf,
  words,
} from "./report.ts";
import { metLine } from "./sure-sections.ts";

const TOLERANCE = 1e-6;
/** Release classes that fit beside the nutrients on 80 columns; further ones are added up. */
const RELEASE_COLUMNS = 4;

/** The report of an assay. */
export function assayReport(assay: Assay, extent: Extent = "whole"): Report {
  const beside: Level = assay.against ? "more" : "essential";
  const report: LongReport = {
    title: `Assay of ${assay.mix}`,
    summary: headline(assay, extent),
    sections: [
      ...levelled("more", [mixSection(assay)]),
      ...levelled(beside, [nutrientSection(assay)]),
      ...levelled("more", [releaseSection(assay)]),
      ...levelled(beside, spreadSections(assay)),
      ...(assay.against ? againstSections(assay, assay.against) : []),
      ...cautionSections(assay.cautions, assay.warnings),
    ],
    rest: assay.against
      ? "what is in it, how fast it feeds, how it is spread"
      : "the weights of the mix, how fast it feeds",
    csv: contentCsv(assay),
  };
  return extentOf(report, extent);
}

function headline(assay: Assay, extent: Extent): Block[] {
  const { currency, units, densityKgPerL, saltIndex } = assay;
  // Beside a plan, the short page has room for what the plan says of the mix.
  const short = assay.against !== undefined && extent !== "whole";
  const items = [
    `${assay.grade} (N-P2O5-K2O, percent by weight); the mix weighs ${weight(assay.kg, units)}.`,
    ...(assay.costPerKg === null || assay.cost === null
      ? []
      : [
          `It costs ${money(assay.cost, currency)}, ${pricePerWeight(assay.costPerKg, currency, units)}, at the cheapest price of each bag.`,
        ]),
    ...(densityKgPerL === null || short ? [] : [densityWords(densityKgPerL, units)]),
    ...(saltIndex === null || short
      ? []
      : [
          saltIndex.knownShare < 1 - TOLERANCE
            ? `Salt index ${decimal(saltIndex.value, 1)} or more (sodium nitrate is 100); ${percent(saltIndex.knownShare)} of the weight has a known index.`
            : `Salt index ${decimal(saltIndex.value, 1)} (sodium nitrate is 100).`,
        ]),
  ];
  return [bullets(items), ...(assay.against ? [againstLine(assay.against, currency)] : [])];
}

function againstLine({ plan, misses, difference }: AgainstPlan, currency: string): Block {
  const beside = difference === null || Math.abs(difference) < 0.005 ? "" : costBeside(difference, currency);
  return misses.length === 0
    ? paragraph(`It meets the plan ${plan}${beside}.`, "good")
    : paragraph(
        `It does not meet the plan ${plan} (${counted(misses.length, "demand")} not kept)${beside}.`,
        "bad",
      );
}

function costBeside(difference: number, currency: string): string {
  return difference > 0
    ? `; the cheapest mix that does costs ${money(difference, currency)} less`
    : `; the cheapest mix that does costs ${money(-difference, currency)} more`;
}

function densityWords(kgPerL: number, units: Assay["units"]): string {
  if (units === "metric") return `Loose, a litre weighs ${grams(kgPerL * 1000)}.`;
  const poundsPerCup = fromSi(kgPerL * (1 / fromSi(1, "cup")), "lb");
  return `Loose, a cup weighs ${weight(kgPerL / fromSi(1, "cup"), units)}: ${decimal(1 / poundsPerCup, 2)} cups per pound.`;
}

function masses<T>(
  head: string,
  csv: string,
  units: Assay["units"],
  kg: (item: T) => number | null,
  show: (kg: number, item: T) => string,
): ColumnOf<T> {
  const { unit, of } = csvWeight(units);
  const column = figures<T>(
    head,
    `${csv}_${unit}`,
    (item) => {
      const value = kg(item);
      return value === null ? null : of(value);
    },
    (_, item) => show(kg(item) ?? 0, item),
  );
  return column;
}

function mixSection(assay: Assay): Section {
  const { units, currency } = assay;
  const shown = (kg: number) => weight(kg, units);
  const { unit, of } = csvWeight(units);
  const table = tableOf(
    assay.amendments,
    [
      words("Amendment", "amendment", (a) => a.name),
      masses("Weight", "weight", units, (a) => a.kg, shown),
      figures(
        "Share",
        "share_percent",
        (a) => a.share * 100,
        (_, a) => percent(a.share),
      ),
      cash("Cost", "cost", (a) => a.cost, currency),
    ],
    {
      amendment: cell("Total"),
      [`weight_${unit}`]: numberCell(shown(assay.kg), of(assay.kg)),
      ...(assay.cost === null ? {} : { cost: numberCell(money(assay.cost, currency), assay.cost) }),
    },
  );
  return { title: "The mix", blocks: [tableBlock(table)] };
}

interface Line {
  readonly nutrient: string;
  readonly fraction: number;
  readonly kg: number;
  readonly appliedKg: number | null;
}

function linesOf(assay: Assay): Line[] {
  return assay.release.map(({ nutrient }) => {
    const key = nutrient as keyof Assay["content"];
    return {
      nutrient,
      fraction: (assay.analysis[key] ?? 0) / 100,
      kg: assay.content[key] ?? 0,
      appliedKg: assay.applied?.[key] ?? null,
    };
  });
}

function nutrientSection(assay: Assay): Section {
  const { units } = assay;
  const shown = (kg: number) => weight(kg, units);
  const lines = linesOf(assay);
  const plants = assay.spread?.plants ?? null;
  return {
    title: "What is in it",
    blocks: [
      tableBlock(
        tableOf(lines, [
          words("Nutrient", "nutrient", (line) => line.nutrient),
          figures(
            "Percent",
            "percent",
            (line) => line.fraction * 100,
            (_, line) => percent(line.fraction),
          ),
          masses("In the mix", "content", units, (line) => line.kg, shown),
          masses("On the bed in all", "applied", units, (line) => line.appliedKg, shown),
          figures(
            "Per plant in all",
            "per_plant_g",
            (line) => (line.appliedKg === null || plants === null ? null : (line.appliedKg * 1000) / plants),
            grams,
          ),
        ]),
      ),
      paragraph("P and K are counted as the oxides P2O5 and K2O, as labels do.", "faint"),
    ],
  };
}

function releaseSection(assay: Assay): Section {
  const labels = [...new Set(assay.release.flatMap((n) => n.parts.map((part) => part.release)))];
  const order = ["at-once", "fast", "medium", "slow", "very-slow"];
  labels.sort((a, b) => (order.indexOf(a) + 1 || 9) - (order.indexOf(b) + 1 || 9) || (a < b ? -1 : 1));
  const shown = labels.length > RELEASE_COLUMNS ? labels.slice(0, RELEASE_COLUMNS - 1) : labels;
  const rest = labels.filter((label) => !shown.includes(label));
  const shareOf = (n: Assay["release"][number], of: readonly string[]) =>
    n.parts.filter((part) => of.includes(part.release)).reduce((sum, part) => sum + part.share, 0);
  const share = (head: string, csv: string, of: readonly string[]) =>
    figures<Assay["release"][number]>(
      head,
      csv,
      (n) => shareOf(n, of) * 100,
      (value) => (value === 0 ? "" : percent(value / 100)),
    );
  const classes = tableOf(assay.release, [
    words("Nutrient", "nutrient", (n) => n.nutrient),
    ...shown.map((label) => share(label, `${label.replaceAll("-", "_")}_percent`, [label])),
    ...(rest.length > 0 ? [share("other", "other_percent", rest)] : []),
  ]);
  const weeks = assay.release[0]?.availableShare.map(({ days }) => days) ?? [];
  const speed = tableOf(assay.release, [
    words("Nutrient", "nutrient", (n) => n.nutrient),
    ...weeks.map((days, i) =>
      figures<Assay["release"][number]>(
        `${days / 7} weeks`,
        `available_${days}_days_percent`,
        (n) => n.availableShare[i]!.share * 100,
        (_, n) => percent(n.availableShare[i]!.share),
      ),
    ),
  ]);
  return {
    title: "How fast it feeds",
    blocks: [
      paragraph("In which form each nutrient comes:"),
      tableBlock(classes),
      paragraph("How much of it is available after so many weeks in warm soil (cold soil is slower):"),
      tableBlock(speed),
    ],
  };
}

/** Weight over an area: per 1000 square feet, or per square metre. */
function rateWords(kgPerM2: number, units: Assay["units"]): string {
  return units === "us"
    ? `${weight(kgPerM2 / fromSi(1, "1000 sq ft"), units)} per 1000 sq ft`
    : `${grams(kgPerM2 * 1000)} per m2`;
}

function spreadSections(assay: Assay): Section[] {
  const { spread, perPlant, units } = assay;
  if (!spread) return [];
  const each = spread.times === 1 ? "" : " each time";
  const items = [
    ...(perPlant?.g == null
      ? []
      : [
          `${handGrams(perPlant.g)}${perPlant.mL == null ? "" : ` (${scoop(perPlant.mL, units)} loose)`} per plant${each}${spread.plants === null ? "" : `, for ${counted(spread.plants, "plant")}`}.`,
        ]),
    `${weight(spread.eachTimeKg, units)} on the bed${each}: ${plainNumber(Number(spread.batchesEachTime.toPrecision(3)))} ${spread.batchesEachTime === 1 ? "batch" : "batches"} of ${weight(spread.batchKg, units)}.`,
    ...(spread.areaM2 === null ? [] : [`${rateWords(spread.eachTimeKg / spread.areaM2, units)}${each}.`]),
    ...(spread.times > 1 ? [`${spread.times} times: ${weight(spread.totalKg, units)} in all.`] : []),
    ...(spread.plantsPerBatch === null
      ? []
      : [`One batch must last ${howMany(spread.plantsPerBatch)} plants.`]),
  ];
  return [{ title: "How it is spread", blocks: [bullets(items)] }];
}

function againstSections(assay: Assay, against: AgainstPlan): LevelledSection[] {
  return [
    ...levelled("essential", [verdictSection(assay, against)]),
    ...levelled("more", [deliverySection(assay), ...inTimeSections(assay)]),
    ...levelled("essential", [mendSection(assay, against), changeSection(assay, against)]),
  ];
}

function verdictSection(assay: Assay, against: AgainstPlan): Section {
  const { currency, units } = assay;
  const spreadAs = against.applications.map(
    (a) => `${weight(a.kg, units)} on ${day(a.day)}${a.name === day(a.day) ? "" : ` (${a.name})`}`,
  );
  const costs = [
    ...(against.cost === null ? [] : [`The season's mix costs ${money(against.cost, currency)} by weight.`]),
    against.cheapestCost === null
      ? "No mix of the plan's own amendments meets the plan."
      : `The cheapest mix that meets the plan costs ${money(against.cheapestCost, currency)}${differenceWords(against, currency)}.`,
  ];
  return {
    title: `Against the plan: ${against.plan}`,
    blocks: [
      ...(against.misses.length === 0
        ? [paragraph(`The mix meets ${against.target} as the plan asks.`, "good")]
        : []),
      paragraph(`Spread as ${listed(spreadAs)}.`),
      ...(assay.sure && assay.sure.needs.length > 0 ? [paragraph(`${metLine(assay.sure.needs)}.`)] : []),
      bullets(costs),
      ...(against.misses.length > 0
        ? [
            paragraph("Not kept, worst first:"),
            bullets(
              against.misses.map(
                ({ demand, side, unit, by }) =>
                  `${demand}: ${side} by ${unit === "kg" ? weight(by, units) : percent(by)}`,
              ),
              "bad",
            ),
          ]
        : []),
    ],
  };
}

/** How far the cheapest mix is from this one, in money. */
function differenceWords({ difference, misses }: AgainstPlan, currency: string): string {
  if (difference === null) return "";
  if (Math.abs(difference) < 0.005) return ": the same";
  if (difference > 0) return `: ${money(difference, currency)} less than this mix`;
  return `: ${money(-difference, currency)} more than this mix${misses.length > 0 ? ", which does not meet it" : ""}`;
}

function check(value: number, least: number, most: number | null): Cell {
  if (value < least - TOLERANCE * Math.max(least, 1e-9)) return cell("SHORT", "bad");
  if (most !== null && value > most + TOLERANCE * Math.max(most, 1e-9)) return cell("OVER", "bad");
  return cell("ok", "good");
}

type Delivered = Omit<SolutionNutrient, "shadowPricePerKg">;

function deliverySection(assay: Assay): Section {
  const { units, nutrients = [] } = assay;
  const beside = (kg: number, n: Delivered) => weightBeside(kg, Math.max(n.availableKg, n.minKg), units);
  const asked = (n: Delivered) => n.minKg > 0 || n.maxKg !== null || n.appliedMaxKg !== null;
  const table = tableOf(nutrients, [
    words<Delivered>("Nutrient", "nutrient", (n) => n.nutrient),
    masses("Needed", "needed", units, (n) => (n.minKg > 0 ? n.minKg : null), beside),
    masses("at most", "most", units, (n) => n.maxKg, beside),
    masses("Available", "available", units, (n) => n.availableKg, beside),
    masses("Short or over", "difference", units, offBy, beside),
    masses("Spread in all", "applied", units, (n) => n.appliedKg, beside),
    masses("at most", "applied_most", units, (n) => n.appliedMaxKg, beside),
    words("Check", "check", (n) => {
      if (!asked(n)) return null;
      const supply = check(n.countedKg, n.minKg, n.maxKg);
      return supply.tone === "good" ? check(n.appliedKg, 0, n.appliedMaxKg) : supply;
    }),
  ]);
  return { title: "What the crop gets of it by the season's end", blocks: [tableBlock(table)] };
}

/** What counts less what is needed, or less the most where it is above that; null where neither is stated. */
function offBy(n: Delivered): number | null {
  if (n.maxKg !== null && n.countedKg > n.maxKg) return n.countedKg - n.maxKg;
  return n.minKg > 0 ? n.countedKg - n.minKg : null;
}

function inTimeSections(assay: Assay): Section[] {
  const { units, nutrients = [] } = assay;
  const last = Math.max(...nutrients.flatMap((n) => n.checkpoints.map((point) => point.day)), 0);
  const points = nutrients
    .filter((n) => n.minKg > 0)
    .flatMap((n) => n.checkpoints.map((point) => ({ ...point, n })))
    .filter((point) => point.day < last)
    .sort((a, b) => a.day - b.day);
  if (points.length === 0) return [];
  const beside = (kg: number, p: (typeof points)[number]) =>
    weightBeside(kg, Math.max(p.availableKg, p.needKg), units);
  const table = tableOf(points, [
    figures("Before day", "day", (p) => p.day, plainNumber),
    words("Nutrient", "nutrient", (p) => p.n.nutrient),
    masses("Needed by then", "needed", units, (p) => p.needKg, beside),
    masses("Available", "available", units, (p) => p.availableKg, beside),
    masses("Short or over", "difference", units, (p) => p.availableKg - p.needKg, beside),
    words("Check", "check", (p) =>
      check(p.availableKg, p.needKg, p.n.aheadMaxKg === null ? null : p.needKg + p.n.aheadMaxKg),
    ),
  ]);
  return [{ title: "In time for the crop", blocks: [tableBlock(table)] }];
}

/** What can go at no loss, then what adding alone would take. */
function mendSection(assay: Assay, against: AgainstPlan): Section {
  const { units, currency, spread } = assay;
  const { leaveOut, add, addStatus, addBlockedBy, scaledBy } = against;
  const batches = spread ? spread.batchesEachTime * spread.times * scaledBy : null;
  const some = (kg: number, name: string, price: number | null): string => {
    const beside = [
      ...(batches === null ? [] : [`${weight(kg / batches, units)} of each batch`]),
      ...(price === null ? [] : [money(price, currency)]),
    ];
    return `${weight(kg, units)} of ${name}${beside.length > 0 ? ` (${beside.join(", ")})` : ""}`;
  };
  const total = (prices: readonly (number | null)[]): number | null =>
    prices.reduce<number | null>((sum, one) => (sum === null || one === null ? null : sum + one), 0);
  const saved = total(leaveOut.map(({ saves }) => saves));
  const added = total(add.map(({ cost }) => cost));
  const out =
    leaveOut.length === 0
      ? "Leave out: nothing; less of any of it would lose something the plan asks for."
      : `Leave out: ${listed(leaveOut.map(({ kg, name, saves }) => some(kg, name, saves)))}. On average nothing the plan asks for is lost${saved === null ? "" : `; it saves ${money(saved, currency)}`}.`;
  const into = {
    none: "Add: nothing; it meets the plan as it is.",
    found: `Add, to the whole mix as it is, at least cost: ${listed(add.map(({ kg, name, cost }) => some(kg, name, cost)))}. Then it meets the plan${added === null ? "" : `, for ${money(added, currency)} more`}.`,
    impossible:
      addBlockedBy.length > 0
        ? `Add: no addition meets the plan; too much is in it already (${listed(addBlockedBy)}).`
        : "Add: no addition of the plan's amendments meets the plan.",
  }[addStatus];
  return { title: "What could be left out, or added", blocks: [bullets([out, into])] };
}

function changeSection(assay: Assay, { change, scaledBy, cheapestCost }: AgainstPlan): Section {
  const { units, currency, spread } = assay;
  const title = "The smallest change that would meet the plan";
  if (change.status === "none")
    return { title, blocks: [paragraph("None: it meets the plan as it is.", "good")] };
  if (change.status === "impossible")
    return {
      title,
      blocks: [
        paragraph(
          cheapestCost === null
            ? "None: no weights of these amendments meet the plan. `barrowmix solve` on the plan says why."
            : "None: no weights of these amendments meet the plan as one recipe spread in this way.",
          "bad",
        ),
      ],
    };
  const shown = (kg: number) => weight(kg, units);
  const signed = (kg: number) => `${kg > 0 ? "+" : ""}${weight(kg, units)}`;
  const table = tableOf(change.amendments, [
    words("Amendment", "amendment", (a) => a.name),
    masses("Now", "from", units, (a) => a.fromKg, shown),
    masses("Change", "change", units, (a) => a.toKg - a.fromKg, signed),
    masses("Then", "to", units, (a) => a.toKg, shown),
    masses(
      "In each batch",
      "batch",
      units,
      (a) => (spread ? a.toKg / (spread.batchesEachTime * spread.times * scaledBy) : null),
      shown,
    ),
  ]);
  return {
    title,
    blocks: [
      tableBlock(table),
      paragraph(
        `Weights are of the whole season's mix${spread ? ", in as many batches as now" : ""}; ${shown(change.kg)} is added or taken away in all.${change.cost === null ? "" : ` The mix then costs ${money(change.cost, currency)} by weight.`}`,
      ),
    ],
  };
}

function contentCsv(assay: Assay): Table {
  const { unit, of } = csvWeight(assay.units);
  return fullTableOf(linesOf(assay), [
    words("Nutrient", "nutrient", (line) => line.nutrient),
    figures("Percent", "percent", (line) => line.fraction * 100, String),
    figures("In the mix", `content_${unit}`, (line) => of(line.kg), String),
    figures(
      "Applied",
      `applied_${unit}`,
      (line) => (line.appliedKg === null ? null : of(line.appliedKg)),
      String,
    ),
  ]);
}
