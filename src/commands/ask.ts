/** Questions to a person at a terminal. The package that asks them is loaded with the first question. */
import { UsageError } from "./command.ts";

export interface Choice {
  readonly value: string;
  /** What is shown. */
  readonly name: string;
  readonly chosen?: boolean;
}

/** Asks; tests answer in the person's place. `check` says what is wrong with an answer, or gives null. */
export interface Asker {
  one(question: string, choices: readonly Choice[], usual?: string): Promise<string>;
  several(question: string, choices: readonly Choice[]): Promise<readonly string[]>;
  text(question: string, usual: string, check: (answer: string) => string | null): Promise<string>;
}

/** Where questions go and answers come from; absent: the terminal. */
export interface Streams {
  readonly input?: NodeJS.ReadableStream;
  readonly output?: NodeJS.WritableStream;
}

/** Asks on the terminal. Ctrl-C is a usage error: nothing has been done then. */
export async function terminalAsker(streams: Streams = {}): Promise<Asker> {
  const [{ default: checkbox }, { default: input }, { default: search }] = await Promise.all([
    import("@inquirer/checkbox"),
    import("@inquirer/input"),
    import("@inquirer/search"),
  ]);
  const stopped = async <T>(answer: Promise<T>): Promise<T> => {
    try {
      return await answer;
    } catch (error) {
      if (error instanceof Error && error.name === "ExitPromptError")
        throw new UsageError("stopped; nothing was written");
      throw error;
    }
  };
  return {
    one: async (message, choices, usual) => {
      const matching = (term: string | undefined): readonly Choice[] => {
        const wanted = (term ?? "").toLowerCase();
        const found = choices.filter((c) => `${c.value} ${c.name}`.toLowerCase().includes(wanted));
        // What is usual comes first, where the return key takes it.
        return [...found.filter((c) => c.value === usual), ...found.filter((c) => c.value !== usual)];
      };
      let shown: readonly Choice[] = choices;
      for (;;) {
        const source = (term: string | undefined) => {
          shown = matching(term);
          return shown.map(({ value, name }) => ({ value, name }));
        };
        const taken = await stopped(search<string>({ message, source }, streams));
        // Where text and return key come at once, the package takes the first of the list before the text, and shows
        // the first of the list after it.
        const found = shown.find(({ value }) => value === taken) ?? shown[0];
        if (found !== undefined) return found.value;
      }
    },
    several: (message, choices) =>
      stopped(
        checkbox<string>(
          {
            message,
            pageSize: 12,
            required: true,
            choices: choices.map(({ value, name, chosen }) => ({ value, name, checked: chosen === true })),
          },
          streams,
        ),
      ),
    text: async (message, usual, check) =>
      (
        await stopped(
          input(
            {
              message,
              ...(usual === "" ? {} : { default: usual }),
              validate: (answer) => check(answer.trim()) ?? true,
            },
            streams,
          ),
        )
      ).trim(),
  };
}
