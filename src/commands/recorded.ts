/** What commands say of themselves, for the manual page and for completion. */
import type { CommandBuilder } from "./command.ts";

/** A flag or an argument as help shows it: `--target <file>`. */
export interface Written {
  readonly written: string;
  readonly about: string;
}

/** All that a command says of itself. */
export interface Recorded {
  readonly arguments: readonly Written[];
  readonly groups: readonly { readonly heading: string; readonly flags: readonly Written[] }[];
  /** What help says after the flags. */
  readonly after: string;
}

/** What a command says of itself when it is configured. */
export function recorded(configure: (command: CommandBuilder) => void): Recorded {
  const args: Written[] = [];
  const groups: { heading: string; flags: Written[] }[] = [{ heading: "", flags: [] }];
  let after = "";
  configure({
    argument: (written: string, about = "") => args.push({ written, about }),
    optionsGroup: (heading: string) => groups.push({ heading, flags: [] }),
    option: (written: string, about: string) => groups.at(-1)!.flags.push({ written, about }),
    addHelpText: (_: "after", text: string) => {
      after += `${text}\n`;
    },
  });
  return { arguments: args, groups, after };
}
