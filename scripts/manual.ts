/** The manual page `man/barrowmix.1`, written in man macros from what the commands say of themselves. */

import {
  type CommandEntry,
  type Flag,
  flagsOf,
  SHARED_FLAGS,
  type Written,
} from "../src/commands/command.ts";
import { PLAN_FLAGS } from "../src/commands/plan-options.ts";
import { capital } from "../src/words/numbers.ts";

/** Text as roff takes it literally: no escapes, no hyphens that break, no request at the start of a line. */
function roff(text: string): string {
  return text
    .replaceAll("\\", "\\e")
    .replaceAll("-", "\\-")
    .replaceAll("'", "\\(aq")
    .replaceAll("`", "\\(ga")
    .replaceAll('"', "\\(dq")
    .replace(/^\./gm, "\\&.");
}

/** Flags and the like, each with what it is about under it. */
function tagged(all: readonly (Written | Flag)[]): string[] {
  return all.flatMap(([written, about]) => [".TP", `.B ${roff(written)}`, roff(about)]);
}

function verbatim(lines: readonly string[]): string[] {
  return [".PP", ".nf", roff(lines.join("\n")), ".fi"];
}

const INTRODUCTION = [
  "From the bags that can be had (analysis, price, speed of release) and what a crop needs, barrowmix finds the",
  "cheapest mix that feeds the crop in time. It says what to buy in whole bags, what to weigh into each batch, and how",
  "much each plant or foot of row gets. Every answer is proven: each demand is computed again from the weights, and a",
  "lower bound on the cost is checked. What cannot be proven is not printed.",
].join("\n");

const EXIT_CODES: readonly Written[] = [
  ["0", "Done."],
  ["1", "A fault of the program."],
  ["2", "Bad input or usage; the message names file, line, column and what would be right."],
  ["3", "No mix fits; the answer says which demands conflict and what would have to give way."],
  ["4", "An answer that could not be verified; none is printed."],
];

const ENVIRONMENT: readonly Written[] = [
  ["NO_COLOR", "Where it is set and not empty, output is plain text."],
  ["BARROWMIX_DEBUG", "Where it is 1, a fault of the program shows where it happened."],
  [
    "NODE_COMPILE_CACHE, NODE_DISABLE_COMPILE_CACHE",
    "Node 22 and later keep compiled code between runs; these say where, or that they should not.",
  ],
];

const FILES: readonly Written[] = [
  ["plan.yaml, mix.yaml", "The plan and, for assay, the mix that are taken where none is named."],
  [
    "recipes/README.md",
    "In the folder of the program: every field of every file by example, with formulas and sources.",
  ],
];

const CAUTION = [
  "Mixing dry meals and rock dusts is dusty work: outdoors, upwind, with a mask, gloves and eye protection. Raw manure",
  "has intervals before harvest, salts burn roots, and too much of anything runs off. The cautions that barrowmix prints",
  "are reminders, not advice: the label on the bag, local codes, your certifier and licensed advisers come first.",
].join("\n");

/**
 * The manual page.
 * @param commands every command, in the order of help.
 * @param version of the program.
 */
export async function manual(commands: readonly CommandEntry[], version: string): Promise<string> {
  const ofPlan = new Set(Object.values(PLAN_FLAGS).flatMap((flags) => flags.map(([written]) => written)));
  const lines = [
    `.TH BARROWMIX 1 "" "barrowmix ${version}" "User Commands"`,
    ".SH NAME",
    roff("barrowmix - least-cost blends of dry fertilizer"),
    ".SH SYNOPSIS",
    ".B barrowmix",
    roff("command [arguments] [options]"),
    ".SH DESCRIPTION",
    roff(INTRODUCTION),
    ".SH COMMANDS",
  ];
  for (const { name, describe, load } of commands) {
    const { command } = await load();
    const flags = flagsOf(command);
    const own = flags.filter(([written]) => !ofPlan.has(written));
    const args = command.arguments.map(([written]) => ` ${written}`).join("");
    lines.push(
      `.SS ${roff(`barrowmix ${name}${args} [options]`)}`,
      roff(`${capital(describe)}.`),
      ...tagged([...command.arguments, ...own]),
      ...(own.length < flags.length ? [".PP", "It takes the options of a plan too."] : []),
      ...(command.notes ? verbatim(command.notes) : []),
    );
  }
  lines.push(".SH OPTIONS OF A PLAN");
  for (const [heading, flags] of Object.entries(PLAN_FLAGS))
    lines.push(`.SS ${roff(heading.replace(/:$/, ""))}`, ...tagged(flags));
  lines.push(
    ...[".SH OPTIONS OF EVERY COMMAND", ...tagged(SHARED_FLAGS)],
    ...[".SH EXIT STATUS", ...tagged(EXIT_CODES)],
    ...[".SH ENVIRONMENT", ...tagged(ENVIRONMENT)],
    ...[".SH FILES", ...tagged(FILES)],
    ...[".SH CAUTION", roff(CAUTION)],
  );
  return `${lines.join("\n")}\n`;
}
