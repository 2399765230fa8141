/** What is odd about a log that can be read: said, and counted as written. */
import { dateOfDay } from "../calendar.ts";
import type { Notice } from "../problem.ts";
import {
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
  return [
    ...outOfOrder(lines),
    ...beforePlanting(lines, around),
    ...givenTwice(lines, around),
    ...tooLarge(lines, around),
  ];
}

function outOfOrder(lines: readonly LogLine[]): Notice[] {
  const late = lines.filter((line, i) => i > 0 && line.day < lines[i - 1]!.day);
  if (late.length === 0) return [];
  const which = `${linesWords(late)} of the season ${late.length === 1 ? "is" : "are"}`;
  return [
    {
      code: "log-sorted",
      text: `${which} earlier than the line before; the log is taken in the order of its days.`,
    },
  ];
}

function beforePlanting(lines: readonly LogLine[], { planted }: Around): Notice[] {
  return lines.flatMap(({ kind, day, line }) =>
    kind === "spread" && day < 0
      ? [
          {
            code: "spread-before-planting",
            text: `Line ${line} of the season spreads ${-day} days before planting (${planted}); check the date.`,
          },
        ]
      : [],
  );
}

function givenTwice(lines: readonly LogLine[], { beds, planted }: Around): Notice[] {
  const first = new Map<string, SpreadLine>();
  return lines.flatMap((line): Notice[] => {
    if (line.kind !== "spread" || line.round === undefined) return [];
    return line.beds.flatMap(({ bed }) => {
      const key = `${bed}\0${line.round}`;
      const before = first.get(key);
      if (before === undefined) {
        first.set(key, line);
        return [];
      }
      const where = beds > 1 ? ` of ${bed}` : "";
      return [
        {
          code: "round-twice",
          text: `Round \`${line.round}\`${where} is on line ${before.line} and on line ${line.line}: both are counted. If it was written twice, add \`void: {line: ${line.number}, day: ${dateOfDay(line.day, planted)}}\`.`,
        },
      ];
    });
  });
}

function tooLarge(lines: readonly LogLine[], { planned, mixes }: Around): Notice[] {
  const most = (of: (round: PlannedRound) => number): number =>
    planned.reduce((largest, round) => Math.max(largest, of(round)), 0);
  const beyond = (kg: number, plannedKg: number): boolean => plannedKg > 0 && kg >= TIMES_PLANNED * plannedKg;
  const largest = most(({ gives }) => sumOf(gives));
  const isStrange = ({ gives }: SpreadLine["beds"][number]): boolean =>
    beyond(sumOf(gives), largest) ||
    Object.entries(materialsOf(gives, mixes)).some(([id, kg]) =>
      beyond(
        kg,
        most((round) => materialsOf(round.gives, mixes)[id] ?? 0),
      ),
    );
  return lines.flatMap((line) =>
    line.kind === "spread" && line.beds.some(isStrange)
      ? [
          {
            code: "spread-large",
            text: `Line ${line.line} of the season spreads ten times what any planned round does, or more. Is the unit right? It is counted as written.`,
          },
        ]
      : [],
  );
}
