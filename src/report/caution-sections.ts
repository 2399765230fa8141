/**
 * Cautions and warnings, each said once: those that this plan gives rise to by their weight, and last, in one
 * paragraph, what holds for every mix.
 */
import { type Notice, noticeText } from "../problem.ts";
import { gravityOf, isForEveryMix } from "../words/caution-table.ts";
import { bullets, type Levelled, paragraph, section } from "./report.ts";

/** What holds for every mix, or nearly, and how the page says it in passing; null: it can wait for the whole report. */
const ALWAYS: Readonly<Record<string, string | null>> = {
  dust: "mix outdoors, upwind, with mask, gloves and eye protection",
  pets: "keep dogs off",
  "not-for-sale": null,
  "last-word": "labels, local codes, your certifier and licensed advice come first",
};

/** Lines of the page that cautions and warnings may each take, at 74 signs a line; the gravest is always shown. */
const LINES = 5;
const SIGNS = 74;

const isAlways = ({ code }: Notice): boolean => isForEveryMix(code);

/** Cautions, gravest first; what holds for every mix last. Equals keep their order. */
export function ranked<T extends Notice>(cautions: readonly T[]): T[] {
  const own = cautions
    .filter((caution) => !isAlways(caution))
    .sort((a, b) => gravityOf(a.code) - gravityOf(b.code));
  return [...own, ...cautions.filter(isAlways)];
}

/** `mix outdoors, ...; keep dogs off.`: what holds for every mix, in short; null where there is no such caution. */
export function alwaysWords(cautions: readonly Notice[]): string | null {
  const words = Object.entries(ALWAYS).flatMap(([code, text]) =>
    text !== null && cautions.some((caution) => caution.code === code) ? [text] : [],
  );
  return words.length === 0 ? null : `Always: ${words.join("; ")}.`;
}

/** Of notices in their order, those that the page has room for, and the rest. */
function fitting<T extends Notice>(notices: readonly T[]): { readonly shown: T[]; readonly rest: T[] } {
  let lines = 0;
  const shown: T[] = [];
  const rest: T[] = [];
  for (const notice of notices) {
    const own = Math.ceil(notice.text.length / SIGNS);
    if (shown.length === 0 || lines + own <= LINES) {
      lines += own;
      shown.push(notice);
    } else rest.push(notice);
  }
  return { shown, rest };
}

/** The sections: on the page `What to watch`, in the whole report every caution and warning with its code. */
export function cautionSections(cautions: readonly Notice[], warnings: readonly Notice[]): Levelled[] {
  const own = fitting(ranked(cautions).filter((caution) => !isAlways(caution)));
  const about = fitting(warnings);
  const more = [...new Set([...own.rest, ...about.rest].map(({ code }) => code.replaceAll("-", " ")))];
  const items = [
    ...own.shown.map(({ text }) => text),
    ...about.shown.map(({ text }) => text),
    more.length > 0 ? `Also, with --all: ${more.join(", ")}.` : "",
  ];
  return [
    ["in-short", section("What to watch", bullets(items), paragraph(alwaysWords(cautions) ?? ""))],
    ["more", section("Cautions", bullets(ranked(cautions).map(noticeText)))],
    ["more", section("Warnings", bullets(warnings.map(noticeText)))],
  ];
}
