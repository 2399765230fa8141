/** The manual page `man/barrowmix.1`, written in man macros from what the commands say of themselves. */

import { capital } from "../words/numbers.ts";
import type { CommandEntry } from "./command.ts";
import { SHARED_FLAGS } from "./completion.ts";
import { addPlanOptions } from "./plan-options.ts";
import { recorded, type Written } from "./recorded.ts";

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

function tagged({ written, about }: Written): string[] {
  return [".TP", `.B ${roff(written)}`, roff(about)];
}

/** Examples and notes as they are. */
function verbatim(text: string): string[] {
  return [".PP", ".nf", roff(text.trim()), ".fi"];
}

const INTRODUCTION = [
  "From the bags that can be had (analysis, price, speed of release) and what a crop needs, barrowmix finds the",
  "cheapest mix that feeds the crop in time. It says what to buy in whole bags, what to weigh into each batch, and how",
  "much each plant or foot of row gets. Every answer is proven: each demand is computed again from the weights, and a",
  "lower bound on the cost is checked. What cannot be proven is not printed.",
].join("\n");

const EXIT_CODES: readonly (readonly [string, string])[] = [
  ["0", "Done."],
  ["1", "A fault of the program."],
  ["2", "Bad input or usage; the message names file, line, column and what would be right."],
  ["3", "No mix fits; the answer says which demands conflict and what would have to give way."],
  ["4", "An answer that could not be verified; none is printed."],
];

const ENVIRONMENT: readonly (readonly [string, string])[] = [
  ["NO_COLOR", "Where it is set and not empty, output is plain text."],
  ["BARROWMIX_DEBUG", "Where it is 1, a fault of the program shows where it happened."],
  [
    "NODE_COMPILE_CACHE, NODE_DISABLE_COMPILE_CACHE",
    "Node 22 and later keep compiled code between runs; these say where, or that they should not.",
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
  const plan = recorded(addPlanOptions);
  const planFlags = new Set(plan.groups.flatMap(({ flags }) => flags.map(({ written }) => written)));
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
    const said = recorded((builder) => command.configure(builder));
    const takesPlan = said.groups.some(({ flags }) => flags.some(({ written }) => planFlags.has(written)));
    const own = said.groups.flatMap(({ flags }) => flags).filter(({ written }) => !planFlags.has(written));
    const args = said.arguments.map(({ written }) => ` ${written}`).join("");
    lines.push(
      `.SS ${roff(`barrowmix ${name}${args} [options]`)}`,
      roff(`${capital(describe)}.`),
      ...said.arguments.flatMap(tagged),
      ...own.flatMap(tagged),
      ...(takesPlan ? [".PP", "It takes the options of a plan too."] : []),
      ...(said.after.trim() === "" ? [] : verbatim(said.after)),
    );
  }
  lines.push(".SH OPTIONS OF A PLAN");
  for (const { heading, flags } of plan.groups)
    if (flags.length > 0) lines.push(`.SS ${roff(heading.replace(/:$/, ""))}`, ...flags.flatMap(tagged));
  lines.push(".SH OPTIONS OF EVERY COMMAND");
  for (const [written, about] of SHARED_FLAGS) lines.push(...tagged({ written, about }));
  lines.push(".SH EXIT STATUS");
  for (const [written, about] of EXIT_CODES) lines.push(...tagged({ written, about }));
  lines.push(".SH ENVIRONMENT");
  for (const [written, about] of ENVIRONMENT) lines.push(...tagged({ written, about }));
  lines.push(
    ".SH FILES",
    ...tagged({ written: "plan.yaml", about: "The plan that is taken where none is named." }),
    ...tagged({
      written: "recipes/README.md",
      about: "In the folder of the program: every field of every file by example, with formulas and sources.",
    }),
    ".SH CAUTION",
    roff(CAUTION),
  );
  return `${lines.join("\n")}\n`;
}
