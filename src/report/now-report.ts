/**
 * Where a season is, in the order in which it is asked: is the crop short, what next and when, what to weigh and from which
 * bags, what to buy, and what going on as planned would do.
 */
import type { SeasonBed, SeasonNow, SeasonNutrient } from "../results/season.ts";
import { counted, listed, money, percent, weight } from "../words/numbers.ts";
import { dayWords } from "../words/own-measures.ts";
import { noMixWords } from "../words/sure-words.ts";
import { type View, viewOf } from "./answer-view.ts";
import { buySections } from "./buy-sections.ts";
import { cautionSections } from "./caution-sections.ts";
import { explainSections } from "./explain-report.ts";
import { giveSections } from "./give-sections.ts";
import { mixSections } from "./mix-sections.ts";
import { nutrientSections } from "./nutrient-sections.ts";
import {
  blocksOf,
  bullets,
  type Extent,
  extentOf,
  figures,
  fullTableOf,
  type Levelled,
  paragraph,
  type Report,
  type Section,
  section,
  table,
  words,
} from "./report.ts";

/** Less short than this share of a need is what rounding to the scale does. */
const SHORT = 0.005;

/** The report of a season on a day. */
export function nowReport(now: SeasonNow, extent: Extent): Report {
  const { rest, warnings } = now;
  const view = rest === null ? null : viewOf(rest);
  const watch = cautionSections(rest?.cautions ?? [], [...warnings, ...(rest?.warnings ?? [])]);
  const sections: Levelled[] = [
    ["essential", nextSections(now, view)],
    ["essential", wayOutSections(now)],
    ["essential", nitrogenSections(now)],
    ["essential", lateSections(now)],
    ...(view === null || rest?.status === "infeasible"
      ? []
      : ([["more", nutrientSections(view)]] satisfies Levelled[])),
    ["more", shedSections(now)],
    ...watch,
  ];
  return extentOf(
    {
      title: `${titleOf(now)}: ${listed(now.beds.map(({ bed }) => bed))}`,
      summary: blocksOf(
        ...now.beds.map((bed) => paragraph(shortWords(bed, now), "strong")),
        paragraph(doWords(now, view)),
      ),
      sections,
      rest: "each nutrient by day, the shed, further warnings",
      csv: csvOf(now),
    },
    extent,
  );
}

function titleOf({ day, planted, lastLine, seasonDays }: SeasonNow): string {
  const over = day >= seasonDays ? ", the season is over" : "";
  return `As of ${dayWords(day, planted ?? undefined)}${lastLine ? ", the last line" : ""}${over}`;
}

const isShort = ({ needKg, nothingKg }: SeasonNutrient): boolean => needKg - nothingKg > SHORT * needKg;

/** Whether the crop is short with nothing more given, and if the old plan goes on. */
function shortWords({ bed, nutrients }: SeasonBed, { beds, units, day, seasonDays }: SeasonNow): string {
  const who = beds.length > 1 ? `${bed}: the crop` : "The crop";
  const amounts = (of: (one: SeasonNutrient) => number) =>
    listed(
      nutrients.flatMap((one) => {
        const short = one.needKg - of(one);
        return short > SHORT * one.needKg ? [`${weight(short, units)} of ${one.nutrient}`] : [];
      }),
    );
  if (day >= seasonDays) {
    const short = amounts(({ nothingKg }) => nothingKg);
    return short === "" ? `${who} got what the plan asks for.` : `${who} was short of ${short}.`;
  }
  const old = amounts(({ oldPlanKg }) => oldPlanKg);
  if (old !== "") return `${who} WILL BE SHORT if the old plan goes on: of ${old}.`;
  return nutrients.some(isShort)
    ? `${who} will not be short if the old plan goes on; it is with nothing more given: of ${amounts(({ nothingKg }) => nothingKg)}.`
    : `${who} has what it needs without anything more.`;
}

/** What to do next, in a sentence. */
function doWords(
  { rest, goOn, beds, currency, planted, day, seasonDays, asked }: SeasonNow,
  view: View | null,
): string {
  if (day >= seasonDays || rest === null || view === null)
    return "Nothing that is given now feeds this crop any more. `init next --after` begins next year's plan with what is left.";
  const little =
    beds.every(({ littleLost, lostKg }) => littleLost || lostKg === 0) &&
    beds.some(({ littleLost }) => littleLost);
  const rain = little ? " The rain took less than can be weighed: spread nothing for it." : "";
  if (rest.status === "infeasible")
    return `${noMixWords(rest.conflicts)}: it cannot be mended fully any more; what comes nearest is below.${rain}`;
  const rounds = rest.beds
    .flatMap(({ rounds: all }) => all.filter(({ kg }) => kg > 0))
    .sort((a, b) => a.day - b.day);
  const [next] = rounds;
  if (next === undefined)
    return `NEXT: SPREAD NOTHING. What was given is enough${asked === null ? "" : ` in ${percent(asked)} of seasons`}.${rain}`;
  const total = rest.cost.total ?? 0;
  const cost = total > 0 ? `, ${money(total, currency)} to buy` : ", all of it from the shed";
  const old =
    goOn?.total === null || goOn === null
      ? ""
      : ` Going on as planned: ${goOn.total > 0 ? money(goOn.total, currency) : "nothing to buy"}.`;
  const when = next.day <= day ? "today" : `on ${dayWords(next.day, planted ?? undefined)}`;
  const what = next.name === `day ${next.day}` && next.day > day ? when : `${next.name}, ${when}`;
  return `NEXT: ${what}${rounds.length > 1 ? `, and ${counted(rounds.length - 1, "more round")}` : ""}${cost}.${old}${rain}`;
}

/** What to give, to weigh and to buy; or why nothing does. */
function nextSections({ rest }: SeasonNow, view: View | null): Section[] {
  if (rest === null || view === null) return [];
  if (rest.status === "infeasible") return explainSections(view);
  if (rest.mixes.every(({ kg }) => kg === 0)) return [];
  return [...giveSections(view), ...mixSections(view), ...buySections(view)];
}

interface Way {
  readonly name: string;
  readonly of: (bed: SeasonBed) => Readonly<Record<string, number>>;
  readonly kg: (one: SeasonNutrient) => number | null;
}
const WAYS: readonly Way[] = [
  { name: "nothing more", of: ({ chance }) => chance.nothing, kg: ({ nothingKg }) => nothingKg },
  { name: "the old plan", of: ({ chance }) => chance.oldPlan, kg: ({ oldPlanKg }) => oldPlanKg },
  { name: "as above", of: ({ chance }) => chance.newPlan, kg: ({ newPlanKg }) => newPlanKg },
];

const inTen = (p: number | undefined): string | null =>
  p === undefined ? null : `${Math.round(100 * p)} of 100`;

/** How often each need is met, by what is done from here. */
function wayOutSections({ beds, units }: SeasonNow): Section[] {
  return beds.flatMap((bed) => {
    const shown = WAYS.filter(({ of }) => Object.keys(of(bed)).length > 0);
    return section(
      beds.length > 1 ? `${bed.bed}: how many seasons feed it` : "How many seasons feed it",
      table(bed.nutrients, [
        words("Nutrient", "nutrient", ({ nutrient }) => nutrient),
        figures(
          "Needed",
          "need",
          ({ needKg }) => needKg,
          (kg) => weight(kg, units),
        ),
        figures(
          "Spread so far",
          "spread",
          ({ spreadKg }) => spreadKg,
          (kg) => weight(kg, units),
        ),
        ...shown.map(({ name, of }) =>
          words<SeasonNutrient>(
            name[0]!.toUpperCase() + name.slice(1),
            name.replaceAll(" ", "_"),
            ({ nutrient }) => inTen(of(bed)[nutrient]),
          ),
        ),
      ]),
    );
  });
}

/** The nitrogen so far: given, taken up, lost, and what a test found beside what was expected. */
function nitrogenSections({ beds, units, planted }: SeasonNow): Section[] {
  const kg = (value: number) => weight(value, units);
  return beds.flatMap((bed) => {
    const { releasedKg, takenUpKg, lostKg, expectedKg, measuredKg, measuredDay } = bed;
    const read =
      measuredKg === null || expectedKg === null
        ? ""
        : `The soil test of ${dayWords(measuredDay!, planted ?? undefined)} found ${kg(measuredKg)}, where ${kg(Math.max(0, expectedKg))} was expected: all that follows is worked out with both.`;
    return section(
      beds.length > 1 ? `${bed.bed}: nitrogen so far` : "Nitrogen so far",
      paragraph(
        `${kg(releasedKg)} has become available, the crop has taken up about ${kg(takenUpKg)}${lostKg > 0 ? `, and water carried about ${kg(lostKg)} below the roots` : ""}.`,
      ),
      paragraph(read),
    );
  });
}

function lateSections({ late, beds, units, planted }: SeasonNow): Section[] {
  return section(
    "What cannot be mended any more",
    bullets(
      late.map(
        ({ bed, nutrient, day, shortKg }) =>
          `${beds.length > 1 ? `${bed}: ` : ""}by ${dayWords(day, planted ?? undefined)} the crop is ${weight(shortKg, units)} of ${nutrient} behind.`,
      ),
    ),
    bullets(
      beds.flatMap(({ bed, rounds }) =>
        rounds.flatMap(({ name, state }) =>
          state === "dropped"
            ? [
                `${beds.length > 1 ? `${bed}: ` : ""}round ${name} was not given, and the next one's day has come: it is left out.`,
              ]
            : [],
        ),
      ),
    ),
  );
}

function shedSections({ shed, kept, units }: SeasonNow): Section[] {
  return section(
    "In the shed by the log",
    bullets([
      ...shed.map(({ name, kg }) => `${weight(kg, units)} of ${name}`),
      ...kept.map(({ mix, kg }) => `${weight(kg, units)} of mix ${mix}, mixed and kept`),
    ]),
  );
}

function csvOf({ beds }: SeasonNow) {
  const rows = beds.flatMap((bed) => bed.nutrients.map((one) => ({ bed, one })));
  type Row = (typeof rows)[number];
  return fullTableOf(rows, [
    words("Bed", "bed", ({ bed }) => bed.bed),
    words("Nutrient", "nutrient", ({ one }) => one.nutrient),
    figures("Need", "need_kg", ({ one }) => one.needKg),
    figures("Spread", "spread_kg", ({ one }) => one.spreadKg),
    ...WAYS.flatMap(({ name, of, kg }) => {
      const key =
        name === "as above"
          ? "new_plan"
          : name.replaceAll("nothing more", "nothing").replaceAll("the old plan", "old_plan");
      return [
        figures<Row>(name, `${key}_kg`, ({ one }) => kg(one)),
        figures<Row>(name, `${key}_chance`, ({ bed, one }) => of(bed)[one.nutrient] ?? null),
      ];
    }),
  ]);
}
