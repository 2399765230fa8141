/** Target files to demands: what a crop asks, first as written and then for one bed. */
import type { Bed, Demand, NutrientMap, Points } from "../model.ts";
import { NUTRIENTS, type Nutrient } from "../nutrients.ts";
import type { Per } from "../units.ts";
import { complain, type Loading, warn } from "./context.ts";
import { type Amounts, type MassOrRate, type Range, type Read, readMap, targetShape } from "./schema.ts";
import { isRecord, type Path, type Tree, valueAt } from "./source.ts";

type Fields = Read<ReturnType<typeof targetShape>>;

/** A target as written, with quantities in SI but not yet counted for a bed. */
export interface Target {
  readonly name: string;
  readonly seasonDays: number;
  readonly fields: Fields;
  readonly tree: Tree;
  /** Where it stands in its tree: nothing for a file of its own, `["target"]` inside a plan. */
  readonly path: Path;
}

/** A bed as far as it is known, and where its absence is to be reported. */
export interface BedAt {
  readonly bed: Bed;
  readonly tree: Tree;
  readonly path: Path;
  /** Missing measures already reported. */
  readonly reported: Set<"plants" | "area">;
  /** The bed itself was wrong and has been reported, so nothing is said of what it lacks. */
  readonly broken: boolean;
}

/** Reads a target; undefined where it lacks what everything else needs. Problems go to `loading`. */
export function readTarget(loading: Loading, tree: Tree, path: Path): Target | undefined {
  const fields = readMap(
    targetShape(),
    tree,
    path,
    loading.problems,
    "a target: a map with `season`, `need` and so on",
  );
  const raw = valueAt(tree.root, path);
  if (!isRecord(raw)) return undefined;
  const missing = (key: string, hint: string): void => {
    if (!Object.hasOwn(raw, key))
      complain(loading, tree, [...path, key], "key-missing", `the target has no \`${key}\``, hint);
  };
  missing("season", "the days from planting to the end of uptake, for instance `season: 120 days`");
  missing("need", "for instance `need: {per: 1000 sq ft, N: {min: 3 lb}}`");
  const { season } = fields;
  checkNeed(loading, fields, tree, path);
  if (season !== undefined) checkUptake(loading, fields, season, tree, path);
  if (season === undefined) return undefined;
  return { name: fields.target ?? "target", seasonDays: season, fields, tree, path };
}

function checkNeed(loading: Loading, fields: Fields, tree: Tree, path: Path): void {
  const { need } = fields;
  if (need === undefined) return;
  if (need.nutrients.length === 0)
    complain(
      loading,
      tree,
      [...path, "need"],
      "need-empty",
      "the target asks for no nutrient",
      "for instance `N: {min: 3 lb}`",
      "key",
    );
  for (const entry of need.nutrients) {
    const { min, max } = entry.value;
    if (min && max && min.kind === max.kind && min.value > max.value)
      complain(
        loading,
        tree,
        [...path, "need", entry.name, "max"],
        "range-crossed",
        `\`max\` of ${entry.name} is below its \`min\``,
        "the most is at least the least",
      );
  }
  checkPer(loading, need, (range) => [range.min, range.max], tree, [...path, "need"]);
  for (const key of ["applied_max", "ahead_max"] as const) {
    const amounts = fields[key];
    if (amounts) checkPer(loading, amounts, (amount) => [amount], tree, [...path, key]);
  }
}

/** Weights need a `per`; rates carry their own. */
function checkPer<T>(
  loading: Loading,
  amounts: Amounts<T>,
  parts: (value: T) => readonly (MassOrRate | undefined)[],
  tree: Tree,
  path: Path,
): void {
  if (amounts.per !== undefined) return;
  if (amounts.nutrients.some((e) => parts(e.value).some((part) => part?.kind === "mass")))
    complain(
      loading,
      tree,
      path,
      "key-missing",
      "these weights do not say what they are counted per",
      "add `per`: `plant`, `bed`, or an area such as `1000 sq ft` or `acre`",
      "key",
    );
}

function checkUptake(loading: Loading, fields: Fields, season: number, tree: Tree, path: Path): void {
  const { uptake } = fields;
  if (uptake === undefined) return;
  const curves = [
    ...uptake.nutrients.map((e) => ({ key: e.name, points: e.value })),
    ...("other" in uptake && uptake.other ? [{ key: "other", points: uptake.other }] : []),
  ];
  for (const { key, points } of curves) {
    const late = points.find(([d]) => d > season);
    if (late) {
      const raw = valueAt(tree.root, [...path, "uptake", key]);
      const written = isRecord(raw)
        ? Object.keys(raw).find((d) => Number.parseFloat(d.replace(/^day\s+/i, "")) === late[0])
        : undefined;
      complain(
        loading,
        tree,
        [...path, "uptake", key, written ?? String(late[0])],
        "day-outside",
        `day ${late[0]} lies after the season's ${season} days`,
        "make the season longer, or end the curve earlier",
        "key",
      );
    }
    const last = points.at(-1);
    if (last && last[1] < 1 - 1e-9)
      warn(
        loading,
        "uptake-incomplete",
        `The uptake curve of ${key} ends at ${Number((last[1] * 100).toPrecision(4))}%; only the season's end asks for the rest.`,
      );
  }
}

/** How often the amount is counted in the whole bed, or undefined where the bed does not say (reported once). */
function timesPer(loading: Loading, per: Per, at: BedAt): number | undefined {
  if (per.kind === "bed") return 1;
  if (per.kind === "plant")
    return at.bed.plants ?? lacking(loading, at, "plants", "how many plants it holds", "`plants: 240`");
  const area = at.bed.areaM2 ?? lacking(loading, at, "area", "its area", "`area: 1500 sq ft`");
  return area === undefined ? undefined : area / per.areaM2;
}

function lacking(
  loading: Loading,
  at: BedAt,
  key: "plants" | "area",
  what: string,
  example: string,
): undefined {
  if (at.broken || at.reported.has(key)) return undefined;
  at.reported.add(key);
  complain(
    loading,
    at.tree,
    at.path,
    "bed-missing",
    `amounts are given per ${key === "plants" ? "plant" : "area"}, and the bed does not say ${what}`,
    `add ${example} under \`bed\``,
    "key",
  );
  return undefined;
}

/** An amount in kg for the whole bed, or undefined where the bed does not say enough. */
export function bedKg(
  loading: Loading,
  amount: MassOrRate,
  factor: number,
  per: Per | undefined,
  at: BedAt,
): number | undefined {
  const times =
    amount.kind === "rate"
      ? timesPer(loading, { kind: "area", areaM2: 1 }, at)
      : per === undefined
        ? undefined
        : timesPer(loading, per, at);
  return times === undefined ? undefined : amount.value * factor * times;
}

/** Amounts in kg for the whole bed; those that cannot be counted are left out, and the reason has been reported. */
export function bedAmounts(
  loading: Loading,
  amounts: Amounts<MassOrRate> | undefined,
  at: BedAt,
): NutrientMap {
  const kg: Partial<Record<Nutrient, number>> = {};
  for (const e of amounts?.nutrients ?? []) {
    const value = bedKg(loading, e.value, e.factor, amounts?.per, at);
    if (value !== undefined) kg[e.nutrient] = value;
  }
  return kg;
}

const fromZero = (points: Points): Points => (points[0]![0] > 0 ? [[0, 0], ...points] : points);

/** What the target asks of a bed, in canonical order. */
export function demandsOf(loading: Loading, target: Target, at: BedAt): Demand[] {
  const { fields, tree, path } = target;
  const need = new Map<Nutrient, { minKg: number; maxKg: number | null; name: string }>();
  for (const e of fields.need?.nutrients ?? []) {
    const amount = (part: Range["min"]): number | undefined =>
      part && bedKg(loading, part, e.factor, fields.need?.per, at);
    const minKg = amount(e.value.min) ?? 0;
    const maxKg = amount(e.value.max) ?? null;
    const { min, max } = e.value;
    if (min && max && min.kind !== max.kind && maxKg !== null && minKg > maxKg)
      complain(
        loading,
        tree,
        [...path, "need", e.name, "max"],
        "range-crossed",
        `\`max\` of ${e.name} is below its \`min\``,
        "the most is at least the least",
      );
    need.set(e.nutrient, { minKg, maxKg, name: e.name });
  }
  const applied = bedAmounts(loading, fields.applied_max, at);
  const ahead = bedAmounts(loading, fields.ahead_max, at);
  const own = new Map((fields.uptake?.nutrients ?? []).map((e) => [e.nutrient, e] as const));
  const other =
    fields.uptake && "other" in fields.uptake ? (fields.uptake.other as Points | undefined) : undefined;

  for (const [nutrient, e] of own)
    if ((need.get(nutrient)?.minKg ?? 0) === 0)
      warn(
        loading,
        "uptake-unused",
        `The uptake curve of ${e.name} does nothing, since the target asks for no least amount of it.`,
      );

  return NUTRIENTS.filter((n) => need.has(n) || applied[n] !== undefined || ahead[n] !== undefined).map(
    (nutrient): Demand => {
      const { minKg, maxKg } = need.get(nutrient) ?? { minKg: 0, maxKg: null };
      const curve = own.get(nutrient)?.value ?? (minKg > 0 ? other : undefined);
      const uptake = curve === undefined ? null : fromZero(curve);
      if (ahead[nutrient] !== undefined && uptake === null)
        warn(
          loading,
          "ahead-without-uptake",
          `\`ahead_max\` of ${nutrient} is held against no uptake curve, so nothing counts as taken up before the season's end.`,
        );
      return {
        nutrient,
        minKg,
        maxKg,
        appliedMaxKg: applied[nutrient] ?? null,
        aheadMaxKg: ahead[nutrient] ?? null,
        uptake,
      };
    },
  );
}
