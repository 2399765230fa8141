/** The flags of a what-if case, on the command line or inside the text of `--case`. */
import { parsePath, readFlagValue } from "../files/load.ts";
import type { Override } from "../files/source.ts";
import type { PlanChange } from "../flow/changes.ts";
import { BadInput } from "../problem.ts";
import { listed } from "../words/numbers.ts";
import { UsageError } from "./command.ts";
import { idsIn, sureOf } from "./plan-options.ts";
import { priceChanges } from "./price-flags.ts";

/** A case as the flags say it; ids are checked when it meets a plan. */
export interface FlaggedCase extends PlanChange {
  readonly name: string;
  /** Amendments files. */
  readonly with: readonly string[];
  readonly set: readonly Override[];
}

const FLAGS = ["price", "exclude", "with", "sure", "set"] as const;
const KNOWN = listed(FLAGS.map((flag) => `--${flag}`));

/** Values of the flags, each as often as it was given. */
export type CaseFlags = Readonly<Partial<Record<(typeof FLAGS)[number], readonly string[]>>>;

/**
 * Words as a shell would part them: blanks part, single and double quotes hold together, a backslash takes the next sign
 * as it is (not within single quotes).
 * @throws UsageError for a quote that is not closed.
 */
export function shellWords(text: string): string[] {
  const words: string[] = [];
  let word: string | null = null;
  let quote: string | null = null;
  for (let i = 0; i < text.length; i++) {
    const sign = text[i]!;
    if (sign === "\\" && quote !== "'" && i + 1 < text.length) word = (word ?? "") + text[++i]!;
    else if (quote !== null) {
      if (sign === quote) quote = null;
      else word = (word ?? "") + sign;
    } else if (sign === '"' || sign === "'") {
      quote = sign;
      word ??= "";
    } else if (/\s/.test(sign)) {
      if (word !== null) words.push(word);
      word = null;
    } else word = (word ?? "") + sign;
  }
  if (quote !== null) throw new UsageError(`--case: a quote (${quote}) is not closed in \`${text}\``);
  if (word !== null) words.push(word);
  return words;
}

/**
 * Reads the text of `--case`: a name, a colon, and the flags of the case.
 * @throws UsageError saying what would be right.
 */
export function parseCase(text: string): FlaggedCase {
  const colon = text.indexOf(":");
  const name = text.slice(0, Math.max(0, colon)).trim();
  if (colon < 0 || name === "" || name.startsWith("--"))
    throw new UsageError(
      `--case \`${text}\`: begin with a name and a colon, for instance --case "dear meal: --price bone-meal=+15%"`,
    );
  const flags: Partial<Record<(typeof FLAGS)[number], readonly string[]>> = {};
  const words = shellWords(text.slice(colon + 1));
  for (let i = 0; i < words.length; i++) {
    const word = words[i]!;
    const flag = FLAGS.find((f) => word === `--${f}` || word.startsWith(`--${f}=`));
    if (flag === undefined)
      throw new UsageError(
        word.startsWith("--")
          ? `--case ${name}: \`${word}\` is no flag of a case; there are ${KNOWN}`
          : `--case ${name}: \`${word}\` is a word by itself; put quotes around values with blanks`,
      );
    const value = word === `--${flag}` ? words[++i] : word.slice(flag.length + 3);
    if (value === undefined) throw new UsageError(`--case ${name}: --${flag} needs a value`);
    flags[flag] = [...(flags[flag] ?? []), value];
  }
  if (words.length === 0) throw new UsageError(`--case ${name}: no change is given; there are ${KNOWN}`);
  return caseOf(name, flags, `--case ${name}: `);
}

/**
 * A case from the values of its flags.
 * @param where put before each message.
 * @throws UsageError for a value that cannot be read.
 */
export function caseOf(name: string, flags: CaseFlags, where = ""): FlaggedCase {
  const { price = [], exclude = [], with: more = [], sure: [sure, ...others] = [] } = flags;
  const prices = priceChanges(price, where);
  const set = (flags.set ?? []).map((text) => settingOf(text, where));
  if (others.length > 0) throw new UsageError(`${where}--sure is given twice; give it once`);
  if (sure !== undefined) set.unshift({ path: ["sure"], value: sureOf(sure), flag: `${where}--sure` });
  return { name, price: prices, exclude: idsIn(exclude, `${where}--exclude`), with: more, set };
}

/**
 * What the text of `--set` sets.
 * @param where put before a message.
 * @throws UsageError for one that cannot be read.
 */
export function settingOf(text: string, where = ""): Override {
  const at = text.indexOf("=");
  const field = text.slice(0, Math.max(0, at));
  const path = parsePath(field);
  if (path === undefined)
    throw new UsageError(
      `${where}--set ${text}: this takes a field and a value, for instance --set batch.size="60 lb" or --set limits.kelp-meal.max_share=10%`,
    );
  const flag = `${where}--set ${field}`;
  const { value, faults } = readFlagValue(text.slice(at + 1));
  if (faults.length > 0) throw new BadInput(faults.map((one) => ({ ...one, about: flag })));
  return { path, value, flag };
}
