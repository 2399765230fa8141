/** What is odd about a log that can be read: said, and counted as written. */
import { dateOfDay } from "../calendar.ts";
import type { Notice } from "../problem.ts";
import {
  type Kilograms,
  type LogLine,
  lineName,
  linesName,
  materialsOf,
  type PlannedRound,
  type SeasonMix,
  type SpreadLine,
  sumOf,
} from "./season-model.ts";

/** One rain or watering beyond this is more likely a slip; common practice, no source. */
const MOST_FALLEN_M = 0.305;
/** A soil in which more is found is more likely a slip; common practice, no source. */
const MOST_NO3_N_PPM = 100;
/** A spreading so many times the largest planned one is more likely a slip of the unit than a spreading. */
const TIMES_PLANNED = 10;

interface Around {
  readonly planted: string;
  /** How many. */
  readonly beds: number;
  readonly planned: readonly PlannedRound[];
  readonly mixes: readonly SeasonMix[];
}

/** @param lines in the order of the file. */
export function remarksOnLog(lines: readonly LogLine[], around: Around): Notice[] {
  const { planted } = around;
  const open = lines.filter(({ checked }) => !checked);
  const spread = open.filter((line) => line.kind === "spread");
  const asked = (code: string, odd: readonly LogLine[], text: (line: LogLine) => string): Notice[] =>
    odd.map((line) => ({
      code,
      text: `${linesName([line])} ${text(line)} It is counted as written; where it is right, add \`checked: yes\` to it.`,
    }));
  return [
    ...outOfOrder(lines),
    ...spread
      .filter(({ day }) => day < 0)
      .map((line) => ({
        code: "spread-before-planting",
        text: `${linesName([line])} spreads ${-line.day} days before planting (${planted}); check the date.`,
      })),
    ...givenTwice(
      lines.filter((line) => line.kind === "spread"),
      around,
    ),
    ...asked(
      "spread-large",
      tooLarge(spread, around),
      () =>
        "spreads ten times what any planned round does, or more. Is the unit right? A weight is in `lb`, `oz`, `kg` or `g`.",
    ),
    ...asked(
      "rain-large",
      open.filter((line) => (line.kind === "rain" || line.kind === "water") && line.fallenM > MOST_FALLEN_M),
      () =>
        "has more than 12 in (300 mm) of water fall at once. Is the unit right? A line is one rain; what falls in a month goes on several.",
    ),
    ...asked(
      "nitrate-large",
      open.filter((line) => line.kind === "nitrate" && line.ppm > MOST_NO3_N_PPM),
      () =>
        "finds more nitrate than garden soils hold (over 100 ppm NO3-N). Is it NO3 (`as: NO3`), or a reading of another scale or of the solution that was stirred?",
    ),
  ];
}

function outOfOrder(lines: readonly LogLine[]): Notice[] {
  const late = lines.filter((line, i) => i > 0 && line.day < lines[i - 1]!.day);
  const text = `${late.length === 0 ? "" : linesName(late)} ${late.length === 1 ? "is" : "are"} earlier than the line before; the log is taken in the order of its days.`;
  return late.length === 0 ? [] : [{ code: "log-sorted", text }];
}

function givenTwice(lines: readonly SpreadLine[], { beds, planted }: Around): Notice[] {
  const first = new Map<string, SpreadLine>();
  return lines.flatMap((line) =>
    line.beds.flatMap(({ bed }): Notice[] => {
      const { round, own, number, day } = line;
      if (round === undefined || own) return [];
      const key = `${bed}\0${round}`;
      const before = first.get(key);
      first.set(key, before ?? line);
      if (before === undefined || line.checked) return [];
      const text = `Round \`${round}\`${beds > 1 ? ` of ${bed}` : ""} is on ${lineName(before)} and on ${lineName(line)}: both are counted. If it was written twice, add \`void: {line: ${number}, day: ${dateOfDay(day, planted)}}\`.`;
      return [{ code: "round-twice", text }];
    }),
  );
}

/** Lines of which a bed got far more than in any planned round, in all or of a material. */
function tooLarge(lines: readonly SpreadLine[], { planned, mixes }: Around): SpreadLine[] {
  const isBeyond = (got: Kilograms, of: (gives: Kilograms) => number): boolean => {
    const most = planned.reduce((largest, { gives }) => Math.max(largest, of(gives)), 0);
    return most > 0 && of(got) >= TIMES_PLANNED * most;
  };
  const isStrange = ({ gives }: SpreadLine["beds"][number]): boolean =>
    isBeyond(gives, sumOf) ||
    Object.keys(materialsOf(gives, mixes)).some((id) =>
      isBeyond(gives, (given) => materialsOf(given, mixes)[id] ?? 0),
    );
  return lines.filter(({ beds }) => beds.some(isStrange));
}
