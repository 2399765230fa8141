/**
 * What a grower may write in words of their own: dates in place of days, and measures that they have named. Both are
 * turned into days and litres before the schemas read a file; places in messages stay those of the file.
 */
import { dayOfDate, isoDate, looksLikeDate, parseDate } from "../calendar.ts";
import type { OwnMeasure } from "../model.ts";
import { parseNumber } from "../numerals.ts";
import { isKnownUnit, parseQuantity } from "../units.ts";
import { complain, type Loading } from "./context.ts";
import { wrongType } from "./schema/read.ts";
import { isRecord, type Path, replaced, type Tree, valueAt } from "./source.ts";

const DATE_HINT = "write `2027-06-03` or `June 3`";

/** The date of planting, `2027-05-20`; undefined where there is none or it is no date (reported). */
export function readPlanted(loading: Loading, tree: Tree): string | undefined {
  const value = valueAt(tree.root, ["planted"]);
  if (value === undefined) return undefined;
  const date = typeof value === "string" ? parseDate(value) : null;
  if (date === null || date.year === null) {
    complain(loading, tree, {
      code: "date-unreadable",
      path: ["planted"],
      given: String(value),
      wrong: "is not a date with its year",
      hint: "write the day of planting, for instance `planted: 2027-05-20`",
    });
    return undefined;
  }
  return isoDate(date);
}

/** Where days are in a plan: every `day` and `until` of a list, the first harvest, days of check. */
function dayPaths(root: unknown): Path[] {
  const ofList = (key: string, fields: readonly string[]): Path[] => {
    const list = valueAt(root, [key]);
    return Array.isArray(list) ? list.flatMap((_, i) => fields.map((field): Path => [key, i, field])) : [];
  };
  const checked = valueAt(root, ["check_days"]);
  return [
    ...ofList("applications", ["day"]),
    ...ofList("credits", ["day", "until"]),
    ["harvest", "first"],
    ...(Array.isArray(checked) ? checked.map((_, i): Path => ["check_days", i]) : []),
  ];
}

/** The plan with its dates turned into days from planting. */
export function withDates(loading: Loading, tree: Tree, planted: string | undefined): Tree {
  let root = tree.root;
  const dayAt = (text: string, path: Path, at: "key" | "value"): number => {
    const shown = text.replace(/^day\s+/i, "");
    const date = parseDate(shown);
    if (date === null)
      complain(loading, tree, {
        code: "date-unreadable",
        path,
        at,
        given: shown,
        wrong: "is not a date",
        hint: DATE_HINT,
      });
    else if (planted !== undefined) return dayOfDate(date, planted);
    // A date of planting that is there and broken is complained of already.
    else if (valueAt(tree.root, ["planted"]) === undefined)
      complain(loading, tree, {
        code: "date-unreadable",
        path,
        at,
        given: shown,
        wrong: "is a date, and the plan does not say when the crop is planted",
        hint: "add `planted: 2027-05-20`, or count days from planting",
      });
    return 0;
  };
  const isDate = (value: unknown): value is string =>
    typeof value === "string" && looksLikeDate(value.replace(/^day\s+/i, ""));
  for (const path of dayPaths(tree.root)) {
    const value = valueAt(tree.root, path);
    if (isDate(value)) root = replaced(root, path, dayAt(value, path, "value"));
  }
  const soil = valueAt(tree.root, ["soil_temperature"]);
  if (isRecord(soil) && Object.keys(soil).some(isDate)) {
    const entries = Object.entries(soil).map(([key, value]): [string, unknown] => [
      isDate(key) ? String(dayAt(key, ["soil_temperature", key], "key")) : key,
      value,
    ]);
    root = replaced(
      root,
      ["soil_temperature"],
      Object.assign(Object.create(null), Object.fromEntries(entries)),
    );
  }
  return root === tree.root ? tree : { ...tree, root };
}

/** `scoops: {barrow: 6 cu ft}`: the grower's own measures, largest first. */
export function readScoops(loading: Loading, tree: Tree): OwnMeasure[] {
  const raw = valueAt(tree.root, ["scoops"]);
  if (raw === undefined || raw === null) return [];
  if (!isRecord(raw)) {
    loading.problems.push(
      wrongType(tree, ["scoops"], raw, "a map such as `{barrow: 6 cu ft, scoop: 1 quart}`"),
    );
    return [];
  }
  const measures: OwnMeasure[] = [];
  for (const [name, size] of Object.entries(raw)) {
    const path: Path = ["scoops", name];
    if (name === "notes" || name === "source") continue;
    if (!/^\p{L}[\p{L} -]*$/u.test(name) || isKnownUnit(name)) {
      complain(loading, tree, {
        code: "id-malformed",
        path,
        at: "key",
        wrong: isKnownUnit(name) ? `\`${name}\` is a unit already` : `\`${name}\` is no name for a measure`,
        hint: "give it a name of your own in letters, such as `scoop`, `barrow` or `blue bucket`",
      });
      continue;
    }
    const read =
      typeof size === "string" || typeof size === "number"
        ? parseQuantity(size, "volume", { positive: true })
        : undefined;
    if (read === undefined) loading.problems.push(wrongType(tree, path, size, "a volume such as `6 cu ft`"));
    else if (!read.ok) complain(loading, tree, { ...read, path });
    else measures.push({ name, litres: read.value });
  }
  return measures.sort((a, b) => b.litres - a.litres || (a.name < b.name ? -1 : 1));
}

/** Where an amount may be given in one of them. */
function measurePaths(root: unknown): Path[] {
  const credits = valueAt(root, ["credits"]);
  const mix = valueAt(root, ["mix"]);
  return [
    ["batch"],
    ["batch", "size"],
    ["batch", "volume"],
    ["spread", "per_plant"],
    ...(Array.isArray(credits) ? credits.map((_, i): Path => ["credits", i, "spread"]) : []),
    ...(isRecord(mix) ? Object.keys(mix).map((id): Path => ["mix", id]) : []),
  ];
}

/** The file with amounts in the grower's own measures turned into litres. */
export function withScoops(tree: Tree, measures: readonly OwnMeasure[]): Tree {
  if (measures.length === 0) return tree;
  let root = tree.root;
  for (const path of measurePaths(tree.root)) {
    const value = valueAt(tree.root, path);
    const litres = typeof value === "string" ? litresOf(value, measures) : undefined;
    if (litres === undefined) continue;
    // A batch of so many barrows is a volume, whichever of its two keys it was written under.
    if (path[0] === "batch") root = replaced(root, ["batch"], volumeMap(litres));
    else root = replaced(root, path, `${litres} L`);
  }
  return root === tree.root ? tree : { ...tree, root };
}

const volumeMap = (litres: number): unknown =>
  Object.assign(Object.create(null) as object, { volume: `${litres} L` });

function litresOf(text: string, measures: readonly OwnMeasure[]): number | undefined {
  for (const { name, litres } of measures) {
    const found = /^(.*?)\s*$/u.exec(text.trim().toLowerCase())![1]!;
    const low = name.toLowerCase();
    const ending = [low, `${low}s`, `${low}es`].find((form) => found.endsWith(form));
    if (ending === undefined) continue;
    const count = found.slice(0, -ending.length).trim();
    const number = count === "" || count === "a" || count === "one" ? 1 : parseNumber(count);
    if (number !== undefined) return number * litres;
  }
  return undefined;
}
