/**
 * Where a season is, in the order in which it is asked: is the crop short, what next and when, what to weigh and from which
 * bags, what to buy, and what going on as planned would do.
 */
import type { Notice } from "../problem.ts";
import type { SeasonBed, SeasonNow, SeasonNutrient, SeasonRound } from "../results/season.ts";
import type { Solution } from "../results/solution.ts";
import { counted, listed, money, scaleWeight, weight, weightBeside } from "../words/numbers.ts";
import { dayWords } from "../words/own-measures.ts";
import { noMixWords } from "../words/sure-words.ts";
import { type View, viewOf } from "./answer-view.ts";
import { buySections } from "./buy-sections.ts";
import { cautionSections, isOnPrices } from "./caution-sections.ts";
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

/**
 * The report of a season on a day.
 * @param hasLog whether there is a file of the season, in which what is done next is written.
 */
export function nowReport(now: SeasonNow, extent: Extent, hasLog: boolean): Report {
  const { rest, warnings } = now;
  const view = rest === null ? null : viewOf(rest);
  const cautions = rest?.cautions ?? [];
  const all = byUrgency([...warnings, ...(rest?.warnings ?? [])]);
  const watch = cautionSections(
    { cautions, warnings: all },
    { cautions, warnings: all.filter(({ code }) => !ELSEWHERE.has(code)) },
  );
  const sections: Levelled[] = [
    ["essential", askedSections(now)],
    ["essential", nextSections(now, view)],
    ["essential", hasLog && rest !== null ? logSections(now, rest) : []],
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
        ...stateWords(now).map((words) => paragraph(words, "strong")),
        paragraph(doWords(now, view)),
      ),
      sections,
      rest: "each nutrient by day, the shed, further warnings",
      csv: csvOf(now),
    },
    extent,
  );
}

/** What cannot be taken back, which has a section of its own; and what the first sentences say. */
const DONE: ReadonlySet<string> = new Set(["spread-more", "max-passed"]);
/** What is likely a slip in the log. */
const ASKED: ReadonlySet<string> = new Set([
  "round-twice",
  "spread-large",
  "rain-large",
  "nitrate-large",
  "spread-before-planting",
  "spread-unbought",
]);
const ELSEWHERE: ReadonlySet<string> = new Set([...DONE, ...ASKED, "mix-kept-first"]);

/** Each once, remarks on prices and sellers after all others. */
function byUrgency(notices: readonly Notice[]): Notice[] {
  return notices
    .filter(({ text }, i) => notices.findIndex((other) => other.text === text) === i)
    .sort((a, b) => Number(isOnPrices(a)) - Number(isOnPrices(b)));
}

function askedSections({ warnings }: SeasonNow): Section[] {
  const odd = warnings.filter(({ code }) => ASKED.has(code));
  return section("Is the log right?", bullets(odd.map(({ text }) => text)));
}

/** Of a day of the season, or of a bed's own. */
const dayOf = (day: number, planted: string | null): string => dayWords(day, planted ?? undefined);

function titleOf({ day, planted, lastLine, beds }: SeasonNow): string {
  const over = beds.every((bed) => bed.over) ? ", the season is over" : "";
  return `As of ${dayOf(day, planted)}${lastLine ? ", the last line" : ""}${over}`;
}

/** Whether the crop is short, of every bed; of several those that are not in one sentence. */
function stateWords(now: SeasonNow): string[] {
  if (now.beds.length === 1) return now.beds.map((bed) => shortWords(bed, now));
  const isShort = ({ over, nutrients }: SeasonBed): boolean =>
    nutrients.some(
      ({ needKg, nothingKg, oldPlanKg }) => needKg - (over ? nothingKg : oldPlanKg) > SHORT * needKg,
    );
  const fed = now.beds.filter((bed) => !isShort(bed)).map(({ bed }) => bed);
  const others = fed.length === 0 ? [] : [`${listed(fed)}: not short if the old plan goes on.`];
  return [...now.beds.filter(isShort).map((bed) => shortWords(bed, now)), ...others];
}

/** Whether the crop is short with nothing more given, and if the old plan goes on. */
function shortWords({ bed, nutrients, over }: SeasonBed, { beds, units }: SeasonNow): string {
  const who = beds.length > 1 ? `${bed}: the crop` : "The crop";
  const short = (of: (one: SeasonNutrient) => number): string =>
    listed(
      nutrients.flatMap((one) => {
        const kg = one.needKg - of(one);
        return kg > SHORT * one.needKg ? [`${weightBeside(kg, 1, units)} of ${one.nutrient}`] : [];
      }),
    );
  const nothing = short(({ nothingKg }) => nothingKg);
  const old = short(({ oldPlanKg }) => oldPlanKg);
  if (over) return nothing === "" ? `${who} got what the plan asks for.` : `${who} was short of ${nothing}.`;
  if (old !== "") return `${who} WILL BE SHORT if the old plan goes on: of ${old}.`;
  return nothing === ""
    ? `${who} has what it needs without anything more.`
    : `${who} will not be short if the old plan goes on. With nothing more given it would be: of ${nothing}.`;
}

/** The rounds that are left of all beds, by the day of the season on which they are given. */
function roundsLeft({ beds, day }: SeasonNow) {
  return beds
    .flatMap(({ bed, day: today, rounds }) =>
      rounds
        .filter(({ state }) => state === "next" || state === "late")
        .map((round) => ({ ...round, bed, day: Math.max(day, round.day + day - today) })),
    )
    .sort((a, b) => a.day - b.day);
}

/** `51.9 lb of mix A`. */
function mixWords(gives: SeasonRound["gives"], { units }: SeasonNow): string {
  // Ids of materials have small letters.
  const of = (name: string): string => (/^[A-Z]+$/.test(name) ? `mix ${name}` : name);
  return listed(Object.entries(gives).map(([name, kg]) => `${weight(kg, units)} of ${of(name)}`));
}

/** The next planned round, and of one bed how much it gets. */
function plannedWords(now: SeasonNow): string {
  const [next] = roundsLeft(now);
  return `${roundWords(next!, now)}${now.beds.length === 1 ? `, ${mixWords(next!.gives, now)}` : ""}`;
}

/** What is mixed and kept and goes first, round by round. */
function keptWords(now: SeasonNow): string {
  const each = roundsLeft(now).filter(({ kept }) => Object.keys(kept).length > 0);
  const words = each.map((round) => {
    const where = now.beds.length > 1 ? ` of ${round.bed}` : "";
    return `${mixWords(round.kept, now)} in round ${round.name}${where}`;
  });
  return words.length === 0 ? "" : ` First spread what is mixed and kept: ${listed(words)}.`;
}

/** A round and its day; some are called by their day. */
function roundWords(
  round: { readonly name: string; readonly day: number },
  { day, planted }: SeasonNow,
): string {
  const when = round.day <= day ? "today" : `on ${dayOf(round.day, planted)}`;
  return /^day \d+$/.test(round.name) && round.day > day ? when : `${round.name}, ${when}`;
}

/** In how many seasons what was given is enough for the bed that is least sure of it, of what was asked to be sure. */
function enoughIn({ asked, beds }: SeasonNow): string {
  const of = beds.flatMap(({ over, chance: { newPlan } }) =>
    over ? [] : [newPlan.N ?? Math.min(...Object.values(newPlan))],
  );
  return asked === null ? "" : ` in ${ofHundred(Math.min(...of))} seasons`;
}

/** What to do next, in a sentence. */
function doWords(now: SeasonNow, view: View | null): string {
  const { rest, goOn, asPlanned, beds, currency, day } = now;
  if (rest === null || view === null)
    return "Nothing that is given now feeds this crop any more. `init next --after` begins next year's plan with what is left.";
  const little =
    beds.every(({ littleLost, lostKg }) => littleLost || lostKg === 0) &&
    beds.some(({ littleLost }) => littleLost);
  const rain = little ? " The rain took less than can be weighed: spread nothing for it." : "";
  if (rest.status === "infeasible")
    return `${noMixWords(rest.conflicts)}: it cannot be mended fully any more; what comes nearest is below.${rain}`;
  const kept = keptWords(now);
  const total = rest.cost.total ?? 0;
  if (asPlanned)
    return `NEXT: ${plannedWords(now)}: GO ON AS PLANNED, ${total > 0 ? `${money(total, currency)} to buy` : "with nothing to buy"}.${kept}${rain}`;
  // Beds may have been planted on several days: their rounds come in the order of the calendar.
  const rounds = [
    ...rest.beds.flatMap(({ bed, rounds: all }) => {
      const own = beds.find((one) => one.bed === bed)!;
      return all.flatMap((round) => (round.kg > 0 ? [{ ...round, day: round.day + day - own.day }] : []));
    }),
    ...roundsLeft(now).filter((round) => Object.keys(round.kept).length > 0),
  ].sort((a, b) => a.day - b.day);
  const [next] = rounds;
  if (next === undefined) return `NEXT: SPREAD NOTHING. What was given is enough${enoughIn(now)}.${rain}`;
  const cost = total > 0 ? `, ${money(total, currency)} to buy` : ", nothing to buy";
  const going = goOn?.total ?? null;
  const old =
    going === null ? "" : ` Going on as planned: ${going > 0 ? money(going, currency) : "nothing to buy"}.`;
  const more = new Set(rounds.map((round) => `${round.day} ${round.name}`)).size - 1;
  return `NEXT: ${roundWords(next, now)}${more > 0 ? `, and ${counted(more, "more round")}` : ""}${cost}.${kept}${old}${rain}`;
}

/** What to give, to weigh and to buy; or why nothing does. */
function nextSections(now: SeasonNow, view: View | null): Section[] {
  const { rest } = now;
  if (rest === null || view === null) return [];
  if (rest.status === "infeasible") return explainSections(view);
  if (rest.mixes.every(({ kg }) => kg === 0)) return [];
  return [...giveSections(view), ...mixSections(view), ...buySections(view)];
}

/** How the next round of one bed is written down once it is given. */
function logSections(now: SeasonNow, { beds: [bed, other], mixes, rounding }: Solution): Section[] {
  const next = bed?.rounds.find(({ kg }) => kg > 0);
  const planned = now.beds[0]!.rounds.find(({ name }) => name === next?.name);
  if (other !== undefined || next === undefined || planned === undefined) return [];
  const mix = mixes.find(({ name }) => name === next.mix)!;
  const exact = (kg: number): string => scaleWeight(kg, rounding.scaleKg, now.units);
  const amounts = [
    ...Object.entries(planned.kept).map(([name, kg]) => `${exact(kg)} ${name}`),
    ...mix.batches.weights.map(({ id, kg }) => `${exact(kg * next.batchesTaken)} ${id}`),
  ];
  const what = now.asPlanned ? planned.name : `${amounts.join(", ")} round ${planned.name}`;
  return section("Once it is given", paragraph(`\`barrowmix log ${now.season} "DATE spread ${what}"\``));
}

/** What may be done from here; `csv` begins the keys of its columns. */
const WAYS = [
  { name: "Nothing more", csv: "nothing", chance: "nothing", kg: "nothingKg" },
  { name: "As planned", csv: "old_plan", chance: "oldPlan", kg: "oldPlanKg" },
  { name: "As above", csv: "new_plan", chance: "newPlan", kg: "newPlanKg" },
] as const;

const ofHundred = (p: number): string => `${Math.round(100 * p)} of 100`;

/** What a section of one bed is called among several. */
const ofBed = (bed: SeasonBed, { beds }: SeasonNow, title: string): string =>
  beds.length > 1 ? `${bed.bed}: ${title}` : title[0]!.toUpperCase() + title.slice(1);

/** How often each need is met, by what is done from here. */
function wayOutSections(now: SeasonNow): Section[] {
  const kg = (value: number) => weightBeside(value, 1, now.units);
  return now.beds.flatMap((bed) => {
    const isNew = !now.asPlanned && now.rest?.mixes.some((mix) => mix.kg > 0);
    const shown = WAYS.filter(
      ({ chance }) =>
        Object.keys(bed.chance[chance]).length > 0 &&
        (chance !== "newPlan" || isNew) &&
        (chance !== "oldPlan" || now.goOn !== null),
    );
    return section(
      ofBed(bed, now, "how many seasons feed it"),
      table(bed.nutrients, [
        words("Nutrient", "nutrient", ({ nutrient }) => nutrient),
        figures("Needed", "need", ({ needKg }) => needKg, kg),
        figures("Spread so far", "spread", ({ spreadKg }) => spreadKg, kg),
        ...shown.map(({ name, csv, chance }) =>
          words<SeasonNutrient>(name, csv, ({ nutrient }) => {
            const p = bed.chance[chance][nutrient];
            return p === undefined ? null : ofHundred(p);
          }),
        ),
      ]),
    );
  });
}

/** The nitrogen so far: given, taken up, lost, and what a test found beside what was expected. */
function nitrogenSections(now: SeasonNow): Section[] {
  const kg = (value: number) => weightBeside(value, 1, now.units);
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

function lateSections({ late, beds, units, warnings }: SeasonNow): Section[] {
  const of = (bed: string): string => (beds.length > 1 ? `${bed}: ` : "");
  return section(
    "What cannot be mended any more",
    bullets([
      ...warnings.filter(({ code }) => DONE.has(code)).map(({ text }) => text),
      ...late.map(({ bed, nutrient, day, shortKg }) => {
        const { planted } = beds.find((one) => one.bed === bed)!;
        return `${of(bed)}by ${dayOf(day, planted)} the crop is ${weightBeside(shortKg, 1, units)} of ${nutrient} behind.`;
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
