/** What is odd about a log that can be read: said, and counted as written. */
import { dateOfDay } from "../calendar.ts";
import type { Notice } from "../problem.ts";
import {
  type Kilograms,
  type LogLine,
  materialsOf,
  type PlannedRound,
  type SeasonMix,
  type SpreadLine,
  sumOf,
} from "./season-model.ts";

/** A spreading so many times the largest planned one is more likely a slip of the unit than a spreading. */
const TIMES_PLANNED = 10;

interface Around {
  readonly planted: string;
  /** How many. */
  readonly beds: number;
  readonly planned: readonly PlannedRound[];
  readonly mixes: readonly SeasonMix[];
}

/** `Line 12`; `Lines 12, 14`. */
export function linesWords(lines: readonly Pick<LogLine, "line">[]): string {
  return `Line${lines.length === 1 ? "" : "s"} ${lines.map(({ line }) => line).join(", ")}`;
}

/** @param lines in the order of the file. */
export function remarksOnLog(lines: readonly LogLine[], around: Around): Notice[] {
  const { planted } = around;
  const spread = lines.filter((line) => line.kind === "spread");
  const early = spread.filter(({ day }) => day < 0);
  return [
    ...outOfOrder(lines),
    ...early.map(({ line, day }) => ({
      code: "spread-before-planting",
      text: `Line ${line} of the season spreads ${-day} days before planting (${planted}); check the date.`,
    })),
    ...givenTwice(spread, around),
    ...tooLarge(spread, around).map(({ line }) => ({
      code: "spread-large",
      text: `Line ${line} of the season spreads ten times what any planned round does, or more. Is the unit right? It is counted as written.`,
    })),
  ];
}

function outOfOrder(lines: readonly LogLine[]): Notice[] {
  const late = lines.filter((line, i) => i > 0 && line.day < lines[i - 1]!.day);
  const text = `${linesWords(late)} of the season ${late.length === 1 ? "is" : "are"} earlier than the line before; the log is taken in the order of its days.`;
  return late.length === 0 ? [] : [{ code: "log-sorted", text }];
}

function givenTwice(lines: readonly SpreadLine[], { beds, planted }: Around): Notice[] {
  const first = new Map<string, number>();
  return lines.flatMap(({ round, line, number, day, beds: got }) =>
    got.flatMap(({ bed }): Notice[] => {
      if (round === undefined) return [];
      const key = `${bed}\0${round}`;
      const before = first.get(key);
      first.set(key, before ?? line);
      if (before === undefined) return [];
      const text = `Round \`${round}\`${beds > 1 ? ` of ${bed}` : ""} is on line ${before} and on line ${line}: both are counted. If it was written twice, add \`void: {line: ${number}, day: ${dateOfDay(day, planted)}}\`.`;
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
