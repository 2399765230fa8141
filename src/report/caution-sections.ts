/**
 * Cautions and warnings, each said once: those that this plan gives rise to by their weight, and last, in one
 * paragraph, what holds for every mix.
 */
import type { Notice } from "../problem.ts";
import type { BedAnswer } from "../results/solution.ts";
import { gravityOf, isForEveryMix } from "../words/caution-table.ts";
import { counted, listed } from "../words/numbers.ts";
import type { View } from "./answer-view.ts";
import { bullets, type Levelled, paragraph, section } from "./report.ts";

/** What holds for every mix, or nearly, and how the page says it in passing; null: it can wait for the whole report. */
const ALWAYS: Readonly<Record<string, string | null>> = {
  dust: "mix outdoors, upwind, with mask, gloves and eye protection",
  pets: "keep dogs off",
  "not-for-sale": null,
  "last-word": "labels, local codes, your certifier and licensed advice come first",
};

/** So many cautions and warnings the page says, each in short; of many beds, whose names are long, the two worst. */
const SHOWN = 4;
const SHOWN_OF_MANY = 2;
/** A first sentence shorter than this has room for the next. */
const ROOM = 40;
/** Warnings are said before cautions that are about rules and papers. */
const PAPERS = "sodium-nitrate-share";

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

/** So many beds are named where something holds for several. */
const NAMED = 3;

/** `kale`, `kale and leeks`, `kale, leeks and 5 more beds`. */
function bedNames(names: readonly string[]): string {
  const others = names.length - NAMED + 1;
  return names.length <= NAMED
    ? listed(names)
    : listed([...names.slice(0, NAMED - 1), counted(others, "more bed")]);
}

/** What is said of several beds, each code once: where the words differ those of the first bed, and which others are like it. */
export function alikeIn(
  beds: readonly Pick<BedAnswer, "bed" | "cautions" | "warnings">[],
  of: "cautions" | "warnings" = "cautions",
): Notice[] {
  const found = new Map<string, Map<string, string[]>>();
  for (const { bed, [of]: notices } of beds)
    for (const { code, text } of notices) {
      const texts = found.get(code) ?? new Map<string, string[]>();
      found.set(code, texts.set(text, [...new Set([...(texts.get(text) ?? []), bed])]));
    }
  return [...found].map(([code, texts]) => {
    const [first, ...others] = texts;
    const [text, names] = first!;
    if (names.length === beds.length) return { code, text };
    const alike = [...new Set(others.flatMap(([, own]) => own))].filter((bed) => !names.includes(bed));
    return {
      code,
      text: `${bedNames(names)}${alike.length === 0 ? "" : ` (likewise ${counted(alike.length, "more bed")}, each with figures of its own)`}: ${text}`,
    };
  });
}

/** The first sentence of a text, and the next where that is short; what can hurt people is said whole. */
export function inShort({ code, text }: Notice): string {
  if (gravityOf(code) <= gravityOf("organic-prohibited")) return text;
  const ends = [...text.matchAll(/[.;!?](?= [A-Z`\d])/g)].map(({ index }) => index + 1);
  const end = ends.find((at) => at >= ROOM);
  return end === undefined ? text : text.slice(0, end).replace(/;$/, ".");
}

/** A remark on price lists and sellers: no harm comes of it. */
export const isOnPrices = ({ code }: Notice): boolean => /^(prices?|supplier)-/.test(code);

/** What is to be watched in this plan, the worst first, remarks on prices last; what holds for every mix is left out. */
function ofThisPlan(cautions: readonly Notice[], warnings: readonly Notice[]): Notice[] {
  const own = ranked(cautions).filter((caution) => !isAlways(caution));
  // That a price is an example is said beside the total.
  const told = warnings.filter(({ code }) => code !== "placeholder-price");
  // Of nitrogen that lies unused, what rain can do says as much.
  const isSaid = ({ code }: Notice): boolean =>
    code === "nitrogen-ahead" && own.some((other) => other.code === "heavy-rain");
  const isGrave = ({ code }: Notice): boolean => gravityOf(code) < gravityOf(PAPERS);
  const order = [...own.filter(isGrave), ...told, ...own.filter((caution) => !isGrave(caution))];
  const isLater = (notice: Notice): number => (isOnPrices(notice) ? 2 : isSaid(notice) ? 1 : 0);
  return order.sort((a, b) => isLater(a) - isLater(b));
}

/** Cautions and warnings. */
interface Watched {
  readonly cautions: readonly Notice[];
  readonly warnings: readonly Notice[];
  /** How many of them the page says. */
  readonly shown?: number;
}

/** What the page says of an answer's cautions and warnings: of several beds each kind once. */
export function inFewWords({ solution, several }: View, isLarge: boolean): Watched {
  const { beds, cautions, warnings } = solution;
  if (!several) return { cautions, warnings };
  const own = alikeIn(beds, "warnings");
  const ofBeds = new Set(own.map(({ code }) => code));
  return {
    cautions: alikeIn(beds),
    warnings: [...own, ...warnings.filter(({ code }) => !ofBeds.has(code))],
    ...(isLarge ? { shown: SHOWN_OF_MANY } : {}),
  };
}

/** How many cautions and warnings the page leaves to `--all`, in words: `2 more warnings`; empty for none. */
export function moreWarnings({ cautions, warnings, shown = SHOWN }: Watched): string {
  const more = ofThisPlan(cautions, warnings).length - shown;
  return more > 0 ? counted(more, "more warning") : "";
}

/** The sections: on the page `Watch`, the worst in short; in the whole report every caution and warning in full. */
export function cautionSections(whole: Watched, page: Watched = whole): Levelled[] {
  const texts = (notices: readonly Notice[]): string[] => notices.map(({ text }) => text);
  return [
    [
      "in-short",
      section(
        "Watch",
        bullets(
          ofThisPlan(page.cautions, page.warnings)
            .slice(0, page.shown ?? SHOWN)
            .map(inShort),
        ),
        paragraph(alwaysWords(page.cautions) ?? ""),
      ),
    ],
    ["more", section("Cautions", bullets(texts(ranked(whole.cautions))))],
    ["more", section("Warnings", bullets(texts(whole.warnings)))],
  ];
}
