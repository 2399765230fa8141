/** What the sections of an answer share: its units and currency put to use, names, and each bed beside its plan. */
import type { Plan } from "../model.ts";
import type { BedAnswer, Mix, Solution } from "../results/solution.ts";
import { type Writer, writerOf } from "./writer.ts";

/** A bed with the plan that it was asked by. */
export interface BedView {
  readonly bed: BedAnswer;
  readonly plan: Plan;
}

/** An answer with the writers of its units and currency, and the name of every amendment. */
export interface View extends Writer {
  readonly solution: Solution;
  readonly name: (id: string) => string;
  readonly beds: readonly BedView[];
  /** Whether there is more than one bed, so that a bed is named. */
  readonly several: boolean;
  readonly mix: (name: string | null) => Mix | undefined;
  /** The words that asked for it, after the program's name; empty where none were typed. */
  readonly typed: readonly string[];
}

export function viewOf(solution: Solution, typed: readonly string[] = []): View {
  const { plans } = solution.inputs;
  const names = new Map(plans.flatMap(({ amendments }) => amendments.map(({ id, name }) => [id, name])));
  return {
    ...writerOf(solution),
    solution,
    name: (id) => names.get(id) ?? id,
    beds: solution.beds.map((bed, p) => ({ bed, plan: plans[p]! })),
    several: solution.beds.length > 1,
    mix: (name) => solution.mixes.find((mix) => mix.name === name),
    typed,
  };
}

/** The title of a section about one bed, which names the bed where there are several. */
export function ofBed({ several }: View, { bed }: BedView, title: string): string {
  return several ? `${bed.bed}: ${title}` : title;
}

/** A bed by its name, and how many are alike. */
export function bedLabel({ bed, bedsAlike }: Pick<BedAnswer, "bed" | "bedsAlike">): string {
  return bedsAlike > 1 ? `${bed}, each of ${bedsAlike} beds` : bed;
}

/** Flags that say how an answer is printed or how sure it is to be, and whether a value follows. */
const NOT_AGAIN: Readonly<Record<string, boolean>> = {
  "--all": false,
  "--json": false,
  "--no-color": false,
  "--out": true,
  "-o": true,
  "--format": true,
  "--sure": true,
  "--save": true,
};

/**
 * What to type for the same question to a command: `barrowmix solve plan.yaml --sure 90%`.
 * @returns null where nothing was typed, or the question came by a pipe.
 */
export function again({ typed }: Pick<View, "typed">, command: string, more: string): string | null {
  const [, ...asked] = typed;
  if (typed.length === 0 || asked.includes("-")) return null;
  const kept = asked.filter((word, k) => {
    const [flag] = word.split("=");
    return !(flag! in NOT_AGAIN) && !(k > 0 && NOT_AGAIN[asked[k - 1]!] === true);
  });
  const quoted = kept.map((word) => (/^[\w@%+=:,./~-]+$/.test(word) ? word : `"${word}"`));
  return `\`${["barrowmix", command, ...quoted, more].join(" ")}\``;
}
