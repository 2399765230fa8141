/** The assay of a mix as a report: its label, what is in it and how fast, what each plant gets, and the plan beside it. */
import type { AgainstPlan, Assay } from "../results/assay.ts";
import { fromSi } from "../units.ts";
import { scoop } from "../words/measures.ts";
import {
  counted,
  day,
  decimal,
  grams,
  handGrams,
  howMany,
  listed,
  percent,
  plainNumber,
  pricePerWeight,
  signed,
  weight,
} from "../words/numbers.ts";
import { loose } from "../words/own-measures.ts";
import { cautionSections, moreWarnings } from "./caution-sections.ts";
import { inTimeSections, seasonTable } from "./nutrient-sections.ts";
import {
  type Block,
  blocksOf,
  bullets,
  type Extent,
  extentOf,
  figures,
  fullTableOf,
  type Level,
  type Levelled,
  type LongReport,
  paragraph,
  plain,
  type Report,
  type Section,
  section,
  type Table,
  table,
  words,
} from "./report.ts";
import { metLine } from "./sure-sections.ts";
import { sum, TOLERANCE, type Writer, writerOf } from "./writer.ts";

/** Release classes that fit beside the nutrients on 80 columns; further ones are added up. */
const RELEASE_COLUMNS = 4;

/** An assay with the writers of its units and currency. */
interface View extends Writer {
  readonly assay: Assay;
}

/** The report of an assay. */
export function assayReport(assay: Assay, extent: Extent = "whole"): Report {
  const view: View = { ...writerOf(assay), assay };
  const { against } = assay;
  const beside: Level = against ? "more" : "essential";
  const report: LongReport = {
    title: `Assay of ${assay.mix}`,
    // Beside a plan, the short page has room for what the plan says of the mix.
    summary: headline(view, against !== undefined && extent !== "whole"),
    sections: [
      ["more", mixSection(view)],
      [beside, nutrientSection(view)],
      ["more", releaseSection(assay)],
      [beside, section("How it is spread", bullets(spreadWords(view)))],
      ...(against ? againstSections(view, against) : []),
      ...cautionSections(assay),
    ],
    rest: [
      moreWarnings(assay),
      against ? "other ways, what is in it, how fast it feeds" : "the weights of the mix, how fast it feeds",
    ]
      .filter((words) => words !== "")
      .join(", "),
    csv: contentCsv(view),
  };
  return extentOf(report, extent);
}

function headline({ assay, money }: View, short: boolean): Block[] {
  const { currency, units, cost, costPerKg, densityKgPerL, saltIndex, against } = assay;
  return blocksOf(
    bullets([
      `${assay.grade} (N-P2O5-K2O, percent by weight); what the file lists weighs ${weight(assay.kg, units)}.`,
      costPerKg === null || cost === null
        ? ""
        : `That much costs ${money(cost)}, ${pricePerWeight(costPerKg, currency, units)}, at the cheapest price of each bag.`,
      densityKgPerL === null || short ? "" : densityWords(densityKgPerL, units),
      saltIndex === null || short
        ? ""
        : saltIndex.knownShare < 1 - TOLERANCE
          ? `Salt index ${decimal(saltIndex.value, 1)} or more (sodium nitrate is 100); ${percent(saltIndex.knownShare)} of the weight has a known index.`
          : `Salt index ${decimal(saltIndex.value, 1)} (sodium nitrate is 100).`,
    ]),
    against ? againstLine(against, money) : [],
  );
}

function againstLine({ plan, misses, difference }: AgainstPlan, money: Writer["money"]): Block {
  const than = differenceWords(difference, money);
  const beside = than === null ? "" : `; the cheapest mix that does costs ${than}`;
  return misses.length === 0
    ? paragraph(`It meets the plan ${plan}${beside}.`, "good")
    : paragraph(
        `It does not meet the plan ${plan} (${counted(misses.length, "demand")} not kept)${beside}.`,
        "bad",
      );
}

/** How far the cheapest mix is from this one: `$3.00 less`; null where they cost the same, or one is not known. */
function differenceWords(difference: number | null, money: Writer["money"]): string | null {
  if (difference === null || Math.abs(difference) < 0.005) return null;
  return difference > 0 ? `${money(difference)} less` : `${money(-difference)} more`;
}

function densityWords(kgPerL: number, units: Assay["units"]): string {
  if (units === "metric") return `Loose, a litre weighs ${grams(kgPerL * 1000)}.`;
  const kgPerCup = kgPerL / fromSi(1, "cup");
  return `Loose, a cup weighs ${weight(kgPerCup, units)}: ${decimal(1 / fromSi(kgPerCup, "lb"), 2)} cups per pound.`;
}

function mixSection({ assay, weight, money, masses, cash }: View): Section[] {
  return section(
    "The mix",
    table(
      assay.amendments,
      [
        words("Amendment", "amendment", (a) => a.name),
        masses("Weight", "weight", (a) => a.kg),
        figures("Share", "share", (a) => a.share, percent),
        cash("Cost", "cost", (a) => a.cost),
      ],
      ["Total", weight(assay.kg), "", assay.cost === null ? "" : money(assay.cost)],
    ),
  );
}

/** Each nutrient of a mix: its share of the weight, and its weight in the mix and on the bed. */
function linesOf({ release, analysis, content, applied }: Assay) {
  return release.map(({ nutrient }) => {
    const key = nutrient as keyof Assay["content"];
    return {
      nutrient,
      fraction: (analysis[key] ?? 0) / 100,
      kg: content[key] ?? 0,
      appliedKg: applied?.[key] ?? null,
    };
  });
}

function nutrientSection({ assay, masses }: View): Section[] {
  const plants = assay.spread?.plants ?? null;
  return section(
    "What is in it",
    table(linesOf(assay), [
      words("Nutrient", "nutrient", (line) => line.nutrient),
      figures("Percent", "share", (line) => line.fraction, percent),
      masses("In the mix", "content", (line) => line.kg),
      masses("On the bed in all", "applied", (line) => line.appliedKg),
      figures(
        "Per plant in all",
        "per_plant_g",
        ({ appliedKg }) => (appliedKg === null || plants === null ? null : (appliedKg * 1000) / plants),
        grams,
      ),
    ]),
    paragraph("P and K are counted as the oxides P2O5 and K2O, as labels do.", "faint"),
  );
}

function releaseSection({ release }: Assay): Section[] {
  type Released = Assay["release"][number];
  const order = ["at-once", "fast", "medium", "slow", "very-slow"];
  const labels = [...new Set(release.flatMap(({ parts }) => parts.map((part) => part.release)))].sort(
    (a, b) => (order.indexOf(a) + 1 || 9) - (order.indexOf(b) + 1 || 9) || (a < b ? -1 : 1),
  );
  const shown = labels.length > RELEASE_COLUMNS ? labels.slice(0, RELEASE_COLUMNS - 1) : labels;
  const rest = labels.slice(shown.length);
  const share = (head: string, of: readonly string[]) =>
    figures<Released>(
      head,
      `${head}_share`,
      ({ parts }) => sum(parts.filter((part) => of.includes(part.release)).map((part) => part.share)),
      (value) => (value === 0 ? "" : percent(value)),
    );
  const nutrient = words<Released>("Nutrient", "nutrient", (n) => n.nutrient);
  return section(
    "How fast it feeds",
    paragraph("In which form each nutrient comes:"),
    table(release, [
      nutrient,
      ...shown.map((label) => share(label, [label])),
      ...(rest.length > 0 ? [share("other", rest)] : []),
    ]),
    paragraph("How much of it is available after so many weeks in warm soil (cold soil is slower):"),
    table(release, [
      nutrient,
      ...(release[0]?.availableShare ?? []).map(({ days }, i) =>
        figures<Released>(
          `${days / 7} weeks`,
          `available_${days}_days`,
          ({ availableShare }) => availableShare[i]!.share,
          percent,
        ),
      ),
    ]),
  );
}

/** Weight over an area: per 1000 square feet, or per square metre. */
function rateWords(kgPerM2: number, units: Assay["units"]): string {
  return units === "us"
    ? `${weight(kgPerM2 / fromSi(1, "1000 sq ft"), units)} per 1000 sq ft`
    : `${grams(kgPerM2 * 1000)} per m2`;
}

function spreadWords({ assay: { spread, perPlant, units }, weight }: View): string[] {
  if (!spread) return [];
  const { times, plants, areaM2, eachTimeKg, batchesEachTime, plantsPerBatch } = spread;
  const each = times === 1 ? "" : " each time";
  const batches = `${plainNumber(Number(batchesEachTime.toPrecision(3)))} ${batchesEachTime === 1 ? "batch" : "batches"}`;
  return [
    perPlant?.g == null
      ? ""
      : `${handGrams(perPlant.g)}${perPlant.mL == null ? "" : ` (${scoop(perPlant.mL, units)} loose)`} per plant${each}${plants === null ? "" : `, for ${counted(plants, "plant")}`}.`,
    `${weight(eachTimeKg)} on the bed${each}: ${batches} of ${weight(spread.batchKg)}.`,
    areaM2 === null ? "" : `${rateWords(eachTimeKg / areaM2, units)}${each}.`,
    times > 1 ? `${times} times: ${weight(spread.totalKg)} in all.` : "",
    plantsPerBatch === null ? "" : `One batch must last ${howMany(plantsPerBatch)} plants.`,
  ];
}

function againstSections(view: View, against: AgainstPlan): Levelled[] {
  const { nutrients = [], units } = view.assay;
  const balance = { nutrients, units, masses: view.masses, given: true };
  return [
    ["essential", firstSection(view, against)],
    ["essential", verdictSection(view, against)],
    ["more", section("What the crop gets of it by the season's end", seasonTable(balance))],
    ["more", inTimeSections(balance)],
    ["more", mendSection(view, against)],
    ["more", changeSection(view, against)],
  ];
}

const sumOf = (given: AgainstPlan["applications"]): number => given.reduce((sum, { kg }) => sum + kg, 0);

function verdictSection({ assay: { sure, units }, weight, money }: View, against: AgainstPlan): Section[] {
  const { plan, target, applications, misses, cost, cheapestCost, difference } = against;
  const spreadAs = applications.map(
    (a) => `${weight(a.kg)} on ${day(a.day)}${a.name === day(a.day) ? "" : ` (${a.name})`}`,
  );
  const than = differenceWords(difference, money);
  const falls = misses.length > 0 && difference !== null && difference < 0 ? ", which does not meet it" : "";
  const beside =
    than === null ? (difference === null ? "" : ": the same") : `: ${than} than this mix${falls}`;
  return section(
    `Against the plan: ${plan}`,
    paragraph(misses.length === 0 ? `The mix meets ${target} as the plan asks.` : "", "good"),
    paragraph(`Spread as ${listed(spreadAs)}.`),
    paragraph(sure && sure.needs.length > 0 ? `${metLine(sure.needs)}.` : ""),
    bullets([
      cost === null
        ? ""
        : `All of it for the season, ${weight(sumOf(applications))}, costs ${money(cost)} by weight, with what is in the shed free.`,
      cheapestCost === null
        ? "No mix of the plan's own amendments meets the plan."
        : `The cheapest mix that meets the plan costs ${money(cheapestCost)} by weight${beside}.`,
    ]),
    paragraph(misses.length > 0 ? "Not kept, worst first:" : ""),
    bullets(
      misses.map(({ demand, side, unit, by }) => {
        // In the unit of the demand that it is held against.
        const amount = / oz\b/.test(demand) ? weight(by) : fineWeight(by, units);
        return `${demand}: ${side} by ${unit === "kg" ? amount : percent(by)}`;
      }),
      "bad",
    ),
  );
}

/** Batches of the whole season in which the mix is spread on the plan's bed; null where that is not known. */
function batchesOf({ spread }: Assay, { scaledBy }: AgainstPlan): number | null {
  return spread ? spread.batchesEachTime * spread.times * scaledBy : null;
}

/** A weight on a scale of pounds, not in ounces; what is under a hundredth as usual. */
function fineWeight(kg: number, units: Assay["units"]): string {
  const pounds = fromSi(kg, "lb");
  return units === "us" && pounds >= 0.005 && pounds < 1 ? `${decimal(pounds, 2)} lb` : weight(kg, units);
}

/** The one thing to do: how much more and less goes into each batch so that the mix meets the plan, and what that saves. */
function firstSection({ assay, money }: View, against: AgainstPlan): Section[] {
  const { change, cost } = against;
  if (change.status !== "found") return [];
  const { units, scoops } = assay;
  const batches = batchesOf(assay, against);
  const share = batches ?? 1;
  const saves = cost === null || change.cost === null ? 0 : cost - change.cost;
  const one = batches === null || Math.abs(batches - 1) < 0.05;
  const count =
    batches === null ? "" : decimal(batches, Math.abs(batches - Math.round(batches)) < 0.05 ? 0 : 1);
  const all = one ? "it meets" : `${count} batches meet`;
  const worth =
    Math.abs(saves) < 0.005
      ? ""
      : saves > 0
        ? ` and save${one ? "s" : ""} ${money(saves)} of material in the season`
        : ` and cost${one ? "s" : ""} ${money(-saves)} more in the season`;
  return section(
    batches === null ? "Do this first, to all of it" : "Do this first, in each batch",
    table(change.amendments, [
      plain(
        figures(
          "Weight",
          "change",
          ({ toKg, fromKg }) => Math.abs(toKg - fromKg) / share,
          (kg) => fineWeight(kg, units),
        ),
      ),
      plain(words("Change", "way", ({ toKg, fromKg }) => (toKg > fromKg ? "more" : "less"))),
      plain(words("Material", "material", (a) => a.name)),
      words("Loose, about", "loose", ({ mL }) => (mL === null ? null : loose(mL / share, units, scoops))),
    ]),
    paragraph(
      `Then ${all} the plan${worth}; each need in 5 seasons of 10 or more. For a surer mix solve the plan with \`--sure 90%\`.`,
      "good",
    ),
  );
}

/** What can go at no loss, then what adding alone would take. */
function mendSection({ assay, weight, money }: View, against: AgainstPlan): Section[] {
  const { leaveOut, add, addStatus, addBlockedBy } = against;
  const batches = batchesOf(assay, against);
  const some = (kg: number, name: string, price: number | null): string => {
    const beside = [
      ...(batches === null ? [] : [`${weight(kg / batches)} of each batch`]),
      ...(price === null ? [] : [money(price)]),
    ];
    return `${weight(kg)} of ${name}${beside.length > 0 ? ` (${beside.join(", ")})` : ""}`;
  };
  const total = (prices: readonly (number | null)[]): number | null =>
    prices.reduce<number | null>((all, one) => (all === null || one === null ? null : all + one), 0);
  const saved = total(leaveOut.map(({ saves }) => saves));
  const added = total(add.map(({ cost }) => cost));
  const out =
    leaveOut.length === 0
      ? "Leave out: nothing; less of any of it would lose something the plan asks for."
      : `Leave out: ${listed(leaveOut.map(({ kg, name, saves }) => some(kg, name, saves)))}. On average nothing the plan asks for is lost${saved === null ? "" : `; it saves ${money(saved)}`}.`;
  const into = {
    none: "Add: nothing; it meets the plan as it is.",
    found: `Add, to the whole mix as it is, at least cost: ${listed(add.map(({ kg, name, cost }) => some(kg, name, cost)))}. Then it meets the plan${added === null ? "" : `, for ${money(added)} more`}.`,
    impossible:
      addBlockedBy.length > 0
        ? `Add: no addition meets the plan; too much is in it already (${listed(addBlockedBy)}).`
        : "Add: no addition of the plan's amendments meets the plan.",
  }[addStatus];
  return section("What could be left out, or added", bullets([out, into]));
}

function changeSection({ assay, weight, money, masses }: View, against: AgainstPlan): Section[] {
  const { change, cheapestCost } = against;
  const batches = batchesOf(assay, against);
  return section(
    "The smallest change that would meet the plan",
    {
      none: [paragraph("None: it meets the plan as it is.", "good")],
      impossible: [
        paragraph(
          cheapestCost === null
            ? "None: no weights of these amendments meet the plan. `barrowmix solve` on the plan says why."
            : "None: no weights of these amendments meet the plan as one recipe spread in this way.",
          "bad",
        ),
      ],
      found: [
        table(change.amendments, [
          words("Amendment", "amendment", (a) => a.name),
          masses("Now", "from", (a) => a.fromKg),
          masses(
            "Change",
            "change",
            (a) => a.toKg - a.fromKg,
            (kg) => signed(kg, weight),
          ),
          masses("Then", "to", (a) => a.toKg),
          masses("In each batch", "batch", (a) => (batches === null ? null : a.toKg / batches)),
        ]),
        paragraph(
          `Weights are of the whole season's mix${batches === null ? "" : ", in as many batches as now"}; ${weight(change.kg)} is added or taken away in all.${change.cost === null ? "" : ` The mix then costs ${money(change.cost)} by weight.`}`,
        ),
      ],
    }[change.status],
  );
}

function contentCsv({ assay, masses }: View): Table {
  return fullTableOf(linesOf(assay), [
    words("Nutrient", "nutrient", (line) => line.nutrient),
    figures("Percent", "percent", (line) => line.fraction * 100),
    masses("In the mix", "content", (line) => line.kg),
    masses("Applied", "applied", (line) => line.appliedKg),
  ]);
}
