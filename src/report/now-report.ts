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

/** Less short than this share of a need is what rounding to the scale does, and no crop shows it. */
const SHORT = 0.02;
/** As sure as asked, as closely as seasons are worked. */
const AS_SURE = 0.0025;

/** The report of a season on a day. */
export function nowReport(now: SeasonNow, extent: Extent): Report {
  const { rest, warnings } = now;
  const view = rest === null ? null : viewOf(rest);
  const watch = cautionSections({
    cautions: rest?.cautions ?? [],
    warnings: [...warnings, ...(rest?.warnings ?? [])],
  });
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

/** Of a day of the season, or of a bed's own. */
const dayOf = (day: number, planted: string | null): string => dayWords(day, planted ?? undefined);

function titleOf({ day, planted, lastLine, beds }: SeasonNow): string {
  const over = beds.every((bed) => bed.over) ? ", the season is over" : "";
  return `As of ${dayOf(day, planted)}${lastLine ? ", the last line" : ""}${over}`;
}

/** Whether the crop is short with nothing more given, and if the old plan goes on. */
function shortWords({ bed, nutrients, over }: SeasonBed, { beds, units }: SeasonNow): string {
  const who = beds.length > 1 ? `${bed}: the crop` : "The crop";
  const short = (of: (one: SeasonNutrient) => number): string =>
    listed(
      nutrients.flatMap((one) => {
        const kg = one.needKg - of(one);
        return kg > SHORT * one.needKg ? [`${weight(kg, units)} of ${one.nutrient}`] : [];
      }),
    );
  const nothing = short(({ nothingKg }) => nothingKg);
  const old = short(({ oldPlanKg }) => oldPlanKg);
  if (over) return nothing === "" ? `${who} got what the plan asks for.` : `${who} was short of ${nothing}.`;
  if (old !== "") return `${who} WILL BE SHORT if the old plan goes on: of ${old}.`;
  return nothing === ""
    ? `${who} has what it needs without anything more.`
    : `${who} will not be short if the old plan goes on; it is with nothing more given: of ${nothing}.`;
}

/** Whether going on as planned feeds every bed, as surely as was asked. */
function isFed({ beds, asked }: SeasonNow): boolean {
  return beds.every(
    ({ over, nutrients, chance }) =>
      over ||
      (nutrients.every(({ needKg, oldPlanKg }) => needKg - oldPlanKg <= SHORT * needKg) &&
        (chance.oldPlan.N ?? 1) >= (asked ?? 0) - AS_SURE),
  );
}

/** The next planned round, and of one bed how much it gets. */
function plannedWords(now: SeasonNow): string {
  const { beds, day, units } = now;
  const [next] = beds
    .flatMap(({ day: today, rounds }) =>
      rounds
        .filter(({ state }) => state === "next" || state === "late")
        .map((round) => ({ ...round, day: Math.max(day, round.day + day - today) })),
    )
    .sort((a, b) => a.day - b.day);
  const gives = Object.entries(next!.gives).map(([name, kg]) => `${weight(kg, units)} of ${name}`);
  return `${roundWords(next!, now)}${beds.length === 1 ? `, ${listed(gives)}` : ""}`;
}

/** A round and its day; some are called by their day. */
function roundWords(
  round: { readonly name: string; readonly day: number },
  { day, planted }: SeasonNow,
): string {
  const when = round.day <= day ? "today" : `on ${dayOf(round.day, planted)}`;
  return /^day \d+$/.test(round.name) && round.day > day ? when : `${round.name}, ${when}`;
}

/** What to do next, in a sentence. */
function doWords(now: SeasonNow, view: View | null): string {
  const { rest, goOn, beds, currency, day, asked } = now;
  if (rest === null || view === null)
    return "Nothing that is given now feeds this crop any more. `init next --after` begins next year's plan with what is left.";
  const little =
    beds.every(({ littleLost, lostKg }) => littleLost || lostKg === 0) &&
    beds.some(({ littleLost }) => littleLost);
  const rain = little ? " The rain took less than can be weighed: spread nothing for it." : "";
  if (rest.status === "infeasible")
    return `${noMixWords(rest.conflicts)}: it cannot be mended fully any more; what comes nearest is below.${rain}`;
  // Beds may have been planted on several days: their rounds come in the order of the calendar.
  const rounds = rest.beds
    .flatMap(({ bed, rounds: all }) => {
      const own = beds.find((one) => one.bed === bed)!;
      return all.flatMap((round) => (round.kg > 0 ? [{ ...round, day: round.day + day - own.day }] : []));
    })
    .sort((a, b) => a.day - b.day);
  const [next] = rounds;
  if (next === undefined)
    return `NEXT: SPREAD NOTHING. What was given is enough${asked === null ? "" : ` in ${percent(asked)} of seasons`}.${rain}`;
  const total = rest.cost.total ?? 0;
  const cost = total > 0 ? `, ${money(total, currency)} to buy` : ", all of it from the shed";
  const going = goOn?.total ?? null;
  const old =
    going === null ? "" : ` Going on as planned: ${going > 0 ? money(going, currency) : "nothing to buy"}.`;
  if (going !== null && going <= total + 0.005 && isFed(now))
    return `NEXT: ${plannedWords(now)}: GO ON AS PLANNED, ${going > 0 ? `${money(going, currency)} to buy` : "with nothing to buy"}. That costs no more than what is below, and feeds the crop as surely.${rain}`;
  const more = new Set(rounds.map((round) => `${round.day} ${round.name}`)).size - 1;
  return `NEXT: ${roundWords(next, now)}${more > 0 ? `, and ${counted(more, "more round")}` : ""}${cost}.${old}${rain}`;
}

/** What to give, to weigh and to buy; or why nothing does. */
function nextSections({ rest }: SeasonNow, view: View | null): Section[] {
  if (rest === null || view === null) return [];
  if (rest.status === "infeasible") return explainSections(view);
  if (rest.mixes.every(({ kg }) => kg === 0)) return [];
  return [...giveSections(view), ...mixSections(view), ...buySections(view)];
}

/** What may be done from here; `csv` begins the keys of its columns. */
const WAYS = [
  { name: "Nothing more", csv: "nothing", chance: "nothing", kg: "nothingKg" },
  { name: "The old plan", csv: "old_plan", chance: "oldPlan", kg: "oldPlanKg" },
  { name: "As above", csv: "new_plan", chance: "newPlan", kg: "newPlanKg" },
] as const;

/** What a section of one bed is called among several. */
const ofBed = (bed: SeasonBed, { beds }: SeasonNow, title: string): string =>
  beds.length > 1 ? `${bed.bed}: ${title}` : title[0]!.toUpperCase() + title.slice(1);

/** How often each need is met, by what is done from here. */
function wayOutSections(now: SeasonNow): Section[] {
  const kg = (value: number) => weight(value, now.units);
  return now.beds.flatMap((bed) => {
    const shown = WAYS.filter(({ chance }) => Object.keys(bed.chance[chance]).length > 0);
    return section(
      ofBed(bed, now, "how many seasons feed it"),
      table(bed.nutrients, [
        words("Nutrient", "nutrient", ({ nutrient }) => nutrient),
        figures("Needed", "need", ({ needKg }) => needKg, kg),
        figures("Spread so far", "spread", ({ spreadKg }) => spreadKg, kg),
        ...shown.map(({ name, csv, chance }) =>
          words<SeasonNutrient>(name, csv, ({ nutrient }) => {
            const p = bed.chance[chance][nutrient];
            return p === undefined ? null : `${Math.round(100 * p)} of 100`;
          }),
        ),
      ]),
    );
  });
}

/** The nitrogen so far: given, taken up, lost, and what a test found beside what was expected. */
function nitrogenSections(now: SeasonNow): Section[] {
  const kg = (value: number) => weight(value, now.units);
  return now.beds.flatMap((bed) => {
    const { releasedKg, takenUpKg, lostKg, expectedKg, measuredKg, measuredDay, planted } = bed;
    const lost = lostKg > 0 ? `, and water carried about ${kg(lostKg)} below the roots` : "";
    return section(
      ofBed(bed, now, "nitrogen so far"),
      paragraph(
        `${kg(releasedKg)} has become available, the crop has taken up about ${kg(takenUpKg)}${lost}.`,
      ),
      paragraph(
        measuredKg === null
          ? ""
          : `The soil test of ${dayOf(measuredDay!, planted)} found ${kg(measuredKg)}, where ${kg(Math.max(0, expectedKg!))} was expected: all that follows is worked out with both.`,
      ),
    );
  });
}

function lateSections({ late, beds, units }: SeasonNow): Section[] {
  const of = (bed: string): string => (beds.length > 1 ? `${bed}: ` : "");
  return section(
    "What cannot be mended any more",
    bullets([
      ...late.map(({ bed, nutrient, day, shortKg }) => {
        const { planted } = beds.find((one) => one.bed === bed)!;
        return `${of(bed)}by ${dayOf(day, planted)} the crop is ${weight(shortKg, units)} of ${nutrient} behind.`;
      }),
      ...beds.flatMap(({ bed, rounds }) =>
        rounds
          .filter(({ state }) => state === "dropped")
          .map(
            ({ name }) =>
              `${of(bed)}round ${name} was not given, and the next one's day has come: it is left out.`,
          ),
      ),
    ]),
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
    ...WAYS.flatMap(({ name, csv, chance, kg }) => [
      figures<Row>(name, `${csv}_kg`, ({ one }) => one[kg]),
      figures<Row>(name, `${csv}_chance`, ({ bed, one }) => bed.chance[chance][one.nutrient] ?? null),
    ]),
  ]);
}
