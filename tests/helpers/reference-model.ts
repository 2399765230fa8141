/**
 * The program of a plan written a second time, straight from its definition, for HiGHS alone. It shares no code with
 * the project: release, uptake, credits, limits and stock are written out again here, in kg, one column per
 * amendment and application whichever way the blend is made, and stock as a column of its own.
 */
import loadHighs from "highs";
import { checkpointsOf, type Spec, type SpecCurve } from "./random-plan.ts";

interface Solver {
  solve(
    text: string,
    options: object,
  ): {
    Status: string;
    ObjectiveValue: number;
    Columns: Record<string, { Primal: number }>;
  };
}
let instance: Promise<Solver> | undefined;
export function highs(): Promise<Solver> {
  instance ??= (loadHighs as unknown as () => Promise<Solver>)();
  return instance;
}

function linear(points: [number, number][], x: number): number {
  const all = points[0]![0] > 0 ? [[0, 0] as [number, number], ...points] : points;
  let last = all[0]!;
  if (x <= last[0]) return last[1];
  for (const point of all.slice(1)) {
    if (x <= point[0]) return last[1] + ((x - last[0]) / (point[0] - last[0])) * (point[1] - last[1]);
    last = point;
  }
  return last[1];
}

function temperature(soil: [number, number][], day: number): number {
  if (day <= soil[0]![0]) return soil[0]![1];
  const last = soil.at(-1)!;
  if (day >= last[0]) return last[1];
  return linear(soil, day);
}

/** Simpson's rule on fine steps, broken at the temperature's own points. */
function tau(from: number, to: number, q10: number, soil: [number, number][] | null, reference = 25): number {
  if (!soil) return to - from;
  const stops = [from, ...soil.map(([d]) => d).filter((d) => d > from && d < to), to];
  let sum = 0;
  for (let k = 1; k < stops.length; k++) {
    const steps = 200;
    const h = (stops[k]! - stops[k - 1]!) / steps;
    for (let i = 0; i <= steps; i++) {
      const weight = i === 0 || i === steps ? 1 : i % 2 === 1 ? 4 : 2;
      sum += ((weight * h) / 3) * q10 ** ((temperature(soil, stops[k - 1]! + i * h) - reference) / 10);
    }
  }
  return sum;
}

export function available(
  c: SpecCurve,
  applied: number,
  day: number,
  soil: [number, number][] | null,
): number {
  if (day <= applied) return 0;
  const days = tau(applied, day, c.q10 ?? 2, soil);
  return c.points ? linear(c.points, days) : c.atOnce! + c.later! * (1 - 2 ** (-days / c.halfLife!));
}

/**
 * kg of a nutrient that a credit has brought by a day. A green manure brings 17.5 lb of nitrogen for each percent of
 * nitrogen above 1.5, per short ton of dry matter (Oregon State PNW 636), as a pool with a half-life of two weeks at 18 C
 * and a Q10 of 2. Of nitrogen, sulfur and boron what was released before day -60 is the last season's.
 */
export function credited(spec: Spec, credit: Spec["credits"][number], nutrient: string, day: number): number {
  const green = credit.greenManure;
  if (!green) {
    const released = (by: number) => available(credit.curve, credit.day, by, spec.soil);
    const passes = nutrient === "N" || nutrient === "S" || nutrient === "B";
    const old = passes && credit.day < -60 ? released(-60) : 0;
    return (credit.content[nutrient] ?? 0) * (released(day) - old);
  }
  if (nutrient !== "N" || day <= credit.day) return 0;
  const total = ((17.5 * (green.nitrogen * 100 - 1.5)) / 2000) * green.dryMatterKg;
  return total * (1 - 2 ** (-tau(credit.day, day, 2, spec.soil, 18) / 14));
}

/** kg of a nutrient that a credit brings in all, but for N, S and B that were released before day -60. */
export function creditInAll(credit: Spec["credits"][number], nutrient: string, spec?: Spec): number {
  const green = credit.greenManure;
  if (!green) {
    const passes = nutrient === "N" || nutrient === "S" || nutrient === "B";
    const old = passes && credit.day < -60 ? available(credit.curve, credit.day, -60, spec?.soil ?? null) : 0;
    return (credit.content[nutrient] ?? 0) * (1 - old);
  }
  return nutrient === "N" ? ((17.5 * (green.nitrogen * 100 - 1.5)) / 2000) * green.dryMatterKg : 0;
}

/** Part of raw manure's nitrogen, at once and as it rots with a half-life of 21 days at 25 C and a Q10 of 1.2 (section 16). */
function manured(spec: Spec, i: number, t: number, day: number): number {
  const { manure, analysis } = spec.amendments[i]!;
  const { day: applied, placement, dugInHours } = spec.applications[t]!;
  if (day <= applied) return 0;
  const near = placement === "hole" || placement === "band";
  const never = placement === "surface";
  const hours = dugInHours ?? (near ? 12 : 1e6);
  const rotted = 1 - 2 ** (-tau(applied, day, 1.2, spec.soil) / 21);
  const { ammonium, animal, dryMatter = 1 } = manure!;
  if (ammonium === undefined) {
    const part = never ? 0.25 : hours <= 12 ? 0.6 : hours <= 96 ? 0.45 : 0.25;
    return part * (0.5 + 0.5 * rotted);
  }
  const v = never ? 1 / 3 : hours <= 12 ? 0 : hours <= 96 ? 1 / 6 : 1 / 4;
  const ruminant = animal === undefined || ["cattle", "sheep", "swine"].includes(animal);
  const k = animal === "poultry" ? 0.55 : ruminant && dryMatter < 0.18 ? 0.35 : 0.25;
  const share = ammonium / analysis.N!;
  return share * (1 - v) + (1 - share) * k * rotted;
}

/** Part of an amendment's nutrient that is available on a day of what an application put down. */
function availableFrom(spec: Spec, i: number, t: number, nutrient: string, day: number): number {
  const { manure, release } = spec.amendments[i]!;
  if (manure && nutrient === "N") return manured(spec, i, t, day);
  const curve = release.byNutrient[nutrient] ?? release.other;
  return available(curve, spec.applications[t]!.day, day, spec.soil);
}

const MIXED: Record<string, number> = { surface: 0, band: 0.05, hole: 0.1, broadcast: 0.15 };

/** Burns's X by Simpson's rule over the depth of mixing, for drainage `m` through the spec's soil. */
function burns(spec: Spec, m: number, mixed: number): number {
  if (m <= 0) return 0;
  const { holds, rootsM } = spec.drainage!;
  const h = Math.min(mixed, rootsM);
  const x = (d: number) => Math.exp((-(rootsM - d) * holds) / m);
  const steps = 400;
  let sum = 0;
  for (let k = 0; k <= steps; k++)
    sum += (k === 0 || k === steps ? 1 : k % 2 === 1 ? 4 : 2) * x((h * k) / steps);
  return sum / (3 * steps);
}

/**
 * What drainage `k` would take of a source, layer by layer: what came between two drainages has met those since then, and
 * loses the difference of X from one drainage to the next.
 */
function wouldLose(spec: Spec, k: number, by: (day: number) => number, mixed: number): number {
  const { lines } = spec.drainage!;
  let lost = 0;
  for (let j = 0; j <= k; j++) {
    const layer = by(lines[j]!.day) - (j === 0 ? 0 : by(lines[j - 1]!.day));
    const before = lines.slice(j, k).reduce((sum, { m }) => sum + m, 0);
    lost += layer * (burns(spec, before + lines[k]!.m, mixed) - burns(spec, before, mixed));
  }
  return lost;
}

/** What drainage `k` does not find: uptake came from what has lain longest, which had met every drainage since its own. */
function spared(spec: Spec, k: number, taken: (day: number) => number): number {
  const { lines } = spec.drainage!;
  const starts = [
    spec.applications[0]!.day,
    ...spec.credits.filter((c) => c.greenManure || c.content.N !== undefined).map((c) => c.day),
  ];
  const first = lines.findIndex(({ day }) => day > Math.min(...starts));
  if (first < 0 || first > k) return 0;
  const mixed = MIXED[spec.applications[0]!.placement ?? ""] ?? 0;
  const depth = (to: number) => lines.slice(first, to).reduce((sum, { m }) => sum + m, 0);
  const takes = burns(spec, depth(k + 1), mixed) - burns(spec, depth(k), mixed);
  let sum = 0;
  for (let i = first; i <= k; i++) {
    const uptake = taken(lines[i]!.day) - (i === first ? 0 : taken(lines[i - 1]!.day));
    sum += (uptake * takes) / (1 - burns(spec, depth(i), mixed));
  }
  return sum;
}

/** `null` where HiGHS says the plan is infeasible; otherwise the least cost. */
export async function referenceCost(spec: Spec, bound: Bound = asStated): Promise<number | null> {
  const solver = await highs();
  const answer = solver.solve(referenceText(spec, bound), { output_flag: false });
  if (answer.Status === "Infeasible" || answer.Status === "Primal infeasible or unbounded") return null;
  if (answer.Status !== "Optimal") throw new Error(answer.Status);
  return answer.ObjectiveValue;
}

/**
 * The bound of a demand, from the one the plan states; null: without this demand. The key says which demand it is:
 * `season-min N`, `in-time N 45`, `ahead-max N 45`, `applied-max N`, `share-min id round`, and so on, where a limit on
 * the whole blend has no round.
 */
export type Bound = (key: string, stated: number) => number | null;
const asStated: Bound = (_key, stated) => stated;

type Add = (terms: [number, string][], sense: string, rhs: number) => void;
type Each = (coefficient: (i: number, t: number) => number) => [number, string][];

/** A column for what each drainage takes of nitrogen, at least nothing and at least what it would take of what lies there. */
function lossColumns(spec: Spec, d: Spec["demands"][string], add: Add, each: Each) {
  const need = d.min / (d.efficiency ?? 1);
  const taken = (day: number) =>
    need * (d.uptake ? linear(d.uptake, day) : Math.min(1, Math.max(0, day / spec.season)));
  return (spec.drainage?.lines ?? []).map(({ day: on }, k) => {
    const name = `lost_${k}`;
    const of = each((i, t) => {
      const content = spec.amendments[i]!.analysis.N ?? 0;
      const mixed = MIXED[spec.applications[t]!.placement ?? ""] ?? 0;
      return content === 0
        ? 0
        : -content * wouldLose(spec, k, (day) => availableFrom(spec, i, t, "N", day), mixed);
    });
    const credit = wouldLose(
      spec,
      k,
      (day) => spec.credits.reduce((sum, c) => sum + credited(spec, c, "N", day), 0),
      0,
    );
    add([[1, name], ...of], ">=", credit - spared(spec, k, taken));
    return { on, name };
  });
}

export function referenceText(spec: Spec, bound: Bound = asStated): string {
  const rows: string[] = [];
  const names: string[] = [];
  const cost: [number, string][] = [];
  const bounds: string[] = [];
  const x = (a: number, t: number): string => `x_${a}_${t}`;
  const add = (terms: [number, string][], sense: string, rhs: number): void => {
    const text = terms
      .filter(([v]) => v !== 0)
      .map(([v, name]) => `${v < 0 ? "-" : "+"} ${Math.abs(v)} ${name}`)
      .join(" ");
    rows.push(` c${rows.length}: ${text === "" ? `0 ${names[0]}` : text} ${sense} ${rhs}`);
  };
  spec.amendments.forEach((a, i) => {
    const price = Math.min(...a.packs.map((p) => p.price / p.kg), a.bulkPerKg ?? Infinity);
    names.push(...spec.applications.map((_, t) => x(i, t)));
    names.push(`bought_${i}`, `shed_${i}`);
    cost.push([price, `bought_${i}`]);
    bounds.push(` 0 <= shed_${i} <= ${a.stockKg}`);
  });
  spec.amendments.forEach((_, i) => {
    add(
      [
        ...spec.applications.map((_a, t): [number, string] => [1, x(i, t)]),
        [-1, `bought_${i}`],
        [-1, `shed_${i}`],
      ],
      "=",
      0,
    );
    if (spec.blend === "one") {
      const base = spec.applications.findIndex((a) => a.share > 0);
      spec.applications.forEach((a, t) => {
        if (t !== base)
          add(
            [
              [spec.applications[base]!.share, x(i, t)],
              [-a.share, x(i, base)],
            ],
            "=",
            0,
          );
      });
    }
  });
  const each = (coefficient: (i: number, t: number) => number): [number, string][] =>
    spec.amendments.flatMap((_, i) =>
      spec.applications.map((_a, t): [number, string] => [coefficient(i, t), x(i, t)]),
    );
  const checkpoints = checkpointsOf(spec);
  for (const [nutrient, d] of Object.entries(spec.demands)) {
    const lost = nutrient === "N" && d.counts !== "applied" ? lossColumns(spec, d, add, each) : [];
    for (const day of checkpoints) {
      const supply = each(
        (i, t) => (spec.amendments[i]!.analysis[nutrient] ?? 0) * availableFrom(spec, i, t, nutrient, day),
      );
      const kept: [number, string][] = [
        ...supply,
        ...lost.flatMap(({ on, name }): [number, string][] => (on < day ? [[-1, name]] : [])),
      ];
      const credit = spec.credits.reduce((sum, c) => sum + credited(spec, c, nutrient, day), 0);
      const end = day === spec.season;
      const applied = d.counts === "applied";
      const uptake = applied ? null : d.uptake;
      const min = applied ? d.min : d.min / (d.efficiency ?? 1);
      const max = d.max === null || applied ? d.max : d.max / (d.efficiency ?? 1);
      const taken = min * (uptake ? linear(uptake, day) : 1);
      const demand = (
        key: string,
        sense: string,
        stated: number,
        more: number,
        terms: [number, string][] = supply,
      ): void => {
        const value = bound(key, stated);
        // A need of nothing asks for nothing, even where nitrogen is tied up.
        if (value !== null && (sense === "<=" || value > 0)) add(terms, sense, value + more);
      };
      const content = each(
        (i) => spec.amendments[i]!.grade?.[nutrient] ?? spec.amendments[i]!.analysis[nutrient] ?? 0,
      );
      const whole = spec.credits.reduce((sum, c) => sum + creditInAll(c, nutrient, spec), 0);
      const [counted, brought] = applied ? [content, whole] : [supply, credit];
      if (end) demand(`season-min ${nutrient}`, ">=", min, -brought, applied ? content : kept);
      else if (uptake) demand(`in-time ${nutrient} ${day}`, ">=", taken, -credit, kept);
      if (end && max !== null) demand(`season-max ${nutrient}`, "<=", max, -brought, counted);
      if (d.aheadMax !== null && (uptake || end))
        demand(`ahead-max ${nutrient} ${day}`, "<=", d.aheadMax, taken - credit);
    }
    const cap = d.appliedMax === null ? null : bound(`applied-max ${nutrient}`, d.appliedMax);
    if (cap !== null)
      add(
        each((i) => spec.amendments[i]!.analysis[nutrient] ?? 0),
        "<=",
        cap,
      );
  }
  for (const [id, limit] of Object.entries(spec.limits)) {
    const own = spec.amendments.findIndex((a) => a.id === id);
    const barred = spec.applications.map((a) => (limit.notIn ?? []).includes(a.name));
    const groups =
      spec.blend === "one" ? [spec.applications.map((_, t) => t)] : spec.applications.map((_, t) => [t]);
    for (const group of groups) {
      const where = spec.blend === "one" ? id : `${id} ${spec.applications[group[0]!]!.name}`;
      const limited = (kind: string, sense: string, stated: number | undefined): void => {
        const value = stated === undefined ? null : bound(`${kind} ${where}`, stated);
        if (value === null) return;
        if (kind.startsWith("share")) add(share(value), sense, 0);
        else add(amount, sense, value);
      };
      const share = (s: number): [number, string][] =>
        spec.amendments.flatMap((_, i) =>
          group.map((t): [number, string] => [(i === own ? 1 : 0) - s, x(i, t)]),
        );
      const amount = group.map((t): [number, string] => [1, x(own, t)]);
      const out = barred.some((b, t) => b && group.includes(t));
      limited("not-in", "<=", out ? 0 : undefined);
      if (out && spec.blend === "each") continue;
      limited("share-min", ">=", limit.minShare);
      limited("share-max", "<=", limit.maxShare);
      limited("amount-min", ">=", limit.minKg);
      limited("amount-max", "<=", limit.maxKg);
    }
  }
  return [
    "Minimize",
    ` cost: ${cost.map(([c, name]) => `+ ${c} ${name}`).join(" ")}`,
    "Subject To",
    ...rows,
    "Bounds",
    ...bounds,
    "End",
    "",
  ].join("\n");
}
