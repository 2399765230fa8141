/**
 * A line of a season's log as it is said on the command line (`2027-09-10 rain 2.5 in`), as a line of YAML, and that line at
 * the end of the file. What it says is checked where it is read, with the whole season: here it is only taken apart.
 */
import { dateOfDay, dayOfDate, parseDate } from "../calendar.ts";
import { fail, guess, ok, type Result } from "../problem.ts";
import type { SeasonFile } from "./season-model.ts";

/** How each kind of line is said; every one may end with `bed NAME`, `by NAME`, `checked yes` and `note ..`. */
export const LOG_GRAMMAR: Readonly<Record<string, string>> = {
  bought: "bought all | bought ID 1 x 50 lb [paid 43.50] [from SUPPLIER] [lot L]",
  spread: "spread ROUND [part 70%] | spread 6 lb ID, 1/2 batch A [round ROUND] [placement band] [lot L]",
  rain: "rain 2.5 in [evaporation 0.5 in]",
  water: "water 1 in",
  nitrate: "nitrate 14 ppm depth 12 in [as NO3] [test strip] [accuracy 10%] [holds 50%]",
  left: "left 12 lb ID",
  kept: "kept 1/4 batch A",
  tissue: "tissue WHAT IT SAID",
  void: "void LINE DAY because ..",
};

/** The words that may follow in a line, by kind, each with the key that it becomes in the file. */
const KEYWORDS: Readonly<Record<string, Readonly<Record<string, string>>>> = {
  bought: { paid: "paid", from: "supplier", lot: "lot" },
  spread: { part: "part", round: "round", placement: "placement", lot: "lots" },
  rain: { evaporation: "evaporation" },
  water: { evaporation: "evaporation" },
  nitrate: { depth: "depth", as: "as", test: "test", accuracy: "accuracy", holds: "holds" },
  void: { because: "because" },
};
const LAST_WORDS = { bed: "bed", by: "who", checked: "checked", note: "note" } as const;

/** A value as YAML inside braces: plain where that is read back as the same text, else in quotes. */
export function scalar(text: string): string {
  const plain =
    /^[\p{L}\p{N}][\p{L}\p{N} ._/%()+-]*$/u.test(text) &&
    !text.endsWith(" ") &&
    !/^(true|false|null|yes|no|on|off|~)$/i.test(text);
  return plain ? text : JSON.stringify(text);
}

type Fields = readonly (readonly [key: string, value: string | Readonly<Record<string, string>>])[];

/** A map inside braces; its values are YAML. */
export const inBraces = (pairs: readonly (readonly [key: string, value: string])[]): string =>
  `{${pairs.map(([key, value]) => `${scalar(key)}: ${value}`).join(", ")}}`;

function lineText(fields: Fields): string {
  const text = (value: Fields[number][1]): string =>
    typeof value === "string"
      ? scalar(value)
      : inBraces(Object.entries(value).map(([key, inside]) => [key, scalar(inside)]));
  return `- ${inBraces(fields.map(([key, value]) => [key, text(value)]))}`;
}

function refusal(said: string, message: string, hint: string): Result<never> {
  return fail({ code: "log-unreadable", about: `\`${said}\``, message, hint });
}

/** The date that a text begins with, as `2027-09-10`, and what follows it; null where it begins with none. */
function datePrefix(words: readonly string[], planted: string): { date: string; rest: string[] } | null {
  for (const count of [3, 2, 1]) {
    const first = words.slice(0, count).join(" ");
    const rest = words.slice(count);
    const date = words.length < count ? null : parseDate(first);
    if (date) return { date: dateOfDay(dayOfDate(date, planted), planted), rest };
    const day = /^(?:day )?(-?\d+)$/i.exec(first);
    if (day) return { date: dateOfDay(Number(day[1]), planted), rest };
  }
  return null;
}

/** The text before the first keyword, and what each keyword is followed by. */
function takenApart(text: string, keywords: Readonly<Record<string, string>>) {
  // What comes first is none: a round may be called `round 1`.
  const pattern = new RegExp(`\\s(${Object.keys(keywords).join("|")})\\s`, "g");
  const found = [...text.matchAll(pattern)];
  // A note goes to the end of the line, whatever words are in it.
  const note = found.findIndex((match) => match[1] === "note");
  const used = note < 0 ? found : found.slice(0, note + 1);
  const head = text.slice(0, used[0]?.index ?? text.length).trim();
  const options = used.map((match, i) => {
    const value = text.slice(match.index + match[0].length, used[i + 1]?.index ?? text.length).trim();
    return [keywords[match[1]!]!, value] as const;
  });
  return { head, options };
}

/** `6 lb feather-meal, 1/2 batch A`: names with their amounts; the name is the last word, or a name that is known. */
function amountsIn(text: string, names: readonly string[]): Readonly<Record<string, string>> | null {
  const parts = text.split(/\s*,\s*|\s+and\s+/).map((part): readonly [string, string] | null => {
    const known = names.filter((name) => part.endsWith(` ${name}`)).sort((a, b) => b.length - a.length)[0];
    const name = known ?? part.split(/\s+/).at(-1)!;
    const amount = part.slice(0, part.length - name.length).trim();
    return /\d|batch/.test(amount) ? [name, amount] : null;
  });
  return parts.every((part) => part !== null) ? Object.fromEntries(parts as [string, string][]) : null;
}

/**
 * What was said, as lines for the log.
 * @param said for instance `2027-09-10 rain 2.5 in evaporation 0.5 in`.
 * @returns lines of YAML without their indent; several for `bought all`.
 */
export function logLines(said: string, season: SeasonFile): Result<readonly string[]> {
  const words = said.trim().split(/\s+/);
  const start = datePrefix(words, season.planted);
  if (start === null)
    return refusal(said, "this does not begin with a day", 'for instance "2027-09-10 rain 2.5 in"');
  const [kind = "", ...rest] = start.rest;
  const grammar = Object.hasOwn(LOG_GRAMMAR, kind) ? LOG_GRAMMAR[kind]! : undefined;
  if (grammar === undefined) {
    const kinds = Object.keys(LOG_GRAMMAR);
    const hint = guess(kind, kinds, `after the day comes one of ${kinds.join(", ")}`);
    return refusal(said, kind === "" ? "nothing follows the day" : `\`${kind}\` is no kind of line`, hint);
  }
  const day = ["day", start.date] as const;
  const { head, options } = takenApart(rest.join(" "), { ...KEYWORDS[kind], ...LAST_WORDS });
  const twice = options.find(([key], i) => options.some(([other], k) => k < i && other === key));
  if (twice) return refusal(said, `\`${twice[0]}\` is said twice`, grammar);
  const wrong = refusal(said, `this is not how a line of \`${kind}\` is said`, grammar);
  if (kind === "bought" && head === "all") return boughtAll(said, season, start.date, options);
  const main = mainFields(kind, head, options, season);
  if (main === null) return wrong;
  return ok([lineText([day, ...main])]);
}

/** What a line says beside its day; null where that is not how such a line is said. */
function mainFields(kind: string, head: string, options: Fields, season: SeasonFile): Fields | null {
  const names = [...season.mixes.map(({ name }) => name), ...season.materials.map(({ id }) => id)];
  switch (kind) {
    case "bought": {
      const match = /^(\S+)\s+(.+)$/.exec(head);
      if (match === null) return null;
      const isPacks = /^\d+\s*[x×*]/.test(match[2]!);
      return [["bought", match[1]!], [isPacks ? "packs" : "weight", match[2]!], ...options];
    }
    case "spread": {
      if (head === "") return null;
      const isRound = season.planned.some(({ round }) => round === head);
      const amounts = isRound || !/^[\d½¼¾⅓⅔.]|^(a|one) /.test(head) ? null : amountsIn(head, names);
      const lot = options.find(([key]) => key === "lots")?.[1];
      if (lot === undefined) return [["spread", amounts ?? head], ...options];
      // A lot is of the one material that the line gives.
      const [only, other] = Object.keys(amounts ?? {});
      if (only === undefined || other !== undefined) return null;
      const lots = { [only]: String(lot) };
      return [
        ["spread", amounts!],
        ...options.map(([k, v]) => (k === "lots" ? ([k, lots] as const) : ([k, v] as const))),
      ];
    }
    case "nitrate": {
      const as = options.some(([key]) => key === "as") ? [] : [["as", "NO3-N"] as const];
      return head === "" ? null : [["soil_nitrate", head], ...options, ...as];
    }
    case "left":
    case "kept": {
      const amounts = amountsIn(head, names);
      return amounts && [[kind, amounts], ...options];
    }
    case "void": {
      const [line = "", ...day] = head.split(/\s+/);
      const of = datePrefix(day, season.planted);
      return /^\d+$/.test(line) && of?.rest.length === 0
        ? [["void", { line, day: of.date }], ...options]
        : null;
    }
    default:
      return head === "" ? null : [[kind, head], ...options];
  }
}

function boughtAll(
  said: string,
  season: SeasonFile,
  date: string,
  options: Fields,
): Result<readonly string[]> {
  const bought = season.log.filter((line) => line.kind === "bought");
  const open = season.toBuy.filter(
    ({ id, count, sizeKg }) =>
      !bought.some((line) => line.id === id && Math.abs(line.kg - count * sizeKg) <= 1e-6 * line.kg),
  );
  if (open.length === 0)
    return refusal(
      said,
      season.toBuy.length === 0
        ? "the season lists nothing under `to_buy`"
        : "all of `to_buy` is in the log already",
      "say what was bought: `bought feather-meal 1 x 50 lb`",
    );
  return ok(
    open.map(({ id, text, supplier, price }) =>
      lineText([
        ["day", date],
        ["bought", id],
        [/^\d+\s*[x×*]/.test(text) ? "packs" : "weight", text],
        ...(supplier === undefined ? [] : [["supplier", supplier] as const]),
        ...(price === undefined ? [] : [["paid", price.toFixed(2)] as const]),
        ...options,
      ]),
    ),
  );
}

/**
 * The text of a season with lines at the end of its log; comments and layout stay.
 * @returns null where `log` is not the last key of the file, or is written inside brackets.
 */
export function withLines(text: string, lines: readonly string[]): string | null {
  const newline = text.includes("\r\n") ? "\r\n" : "\n";
  const keys = [...text.matchAll(/^(["']?)([A-Za-z_]+)\1\s*:(.*)$/gm)];
  const last = keys.at(-1);
  const hasLog = keys.some((key) => key[2] === "log");
  if (hasLog && last?.[2] !== "log") return null;
  let before = text === "" || text.endsWith("\n") ? text : `${text}${newline}`;
  let indent = "  ";
  if (!hasLog) before += `log:${newline}`;
  else {
    const value = last![3]!.replace(/\s#.*$/, "").trim();
    if (value === "[]") {
      const at = last!.index + last![0].indexOf("[");
      before = `${before.slice(0, at).trimEnd()}${before.slice(before.indexOf("]", at) + 1)}`;
    } else if (value !== "" && !value.startsWith("#")) return null;
    indent = /^( *)- /m.exec(before.slice(last!.index))?.[1] ?? indent;
  }
  return `${before}${lines.map((line) => `${indent}${line}${newline}`).join("")}`;
}
