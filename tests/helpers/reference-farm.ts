/**
 * One mix for many beds, written a second time from plain numbers, for solvers from elsewhere.
 *
 * By weight it is left as it is: what a kg of the mix is made of, times how much of it each bed gets. Steps by linear
 * programs within a region of trust (as Fletcher and Sainz de la Maza do, Mathematical Programming 43, 1989 [memory]) go down from
 * several starts; HiGHS solves each of them. By purchase the heap and each bed's part of it are whole-number programs for
 * HiGHS, with more and more tangents of the parts. It shares no code with the project.
 */

import { seeded } from "./random.ts";
import { cheapest, type FarmSpec, type PlainRow, plainRows } from "./random-farm.ts";
import { highs } from "./reference-model.ts";

type Term = readonly [number, string];
interface Model {
  readonly cost: readonly Term[];
  readonly rows: readonly {
    readonly terms: readonly Term[];
    readonly sense: ">=" | "<=" | "=";
    readonly rhs: number;
  }[];
  readonly bounds?: readonly (readonly [name: string, low: number, high: number])[];
  readonly whole?: readonly string[];
}

const termText = (terms: readonly Term[]): string =>
  terms
    .filter(([v]) => v !== 0)
    .map(([v, name]) => `${v < 0 ? "-" : "+"} ${Math.abs(v).toExponential(15)} ${name}`)
    .join(" ");

/** Solves a model with HiGHS; null where there is no point. */
async function solve({
  cost,
  rows,
  bounds = [],
  whole = [],
}: Model): Promise<{ cost: number; at: (name: string) => number } | null> {
  const text = [
    "Minimize",
    ` obj: ${termText(cost)}`,
    "Subject To",
    ...rows.map(({ terms, sense, rhs }, i) => ` r${i}: ${termText(terms)} ${sense} ${rhs.toExponential(15)}`),
    "Bounds",
    ...bounds.map(([name, low, high]) => ` ${low.toExponential(15)} <= ${name} <= ${high.toExponential(15)}`),
    ...(whole.length > 0 ? ["General", ` ${whole.join(" ")}`] : []),
    "End",
  ].join("\n");
  const solver = await highs();
  const answer = solver.solve(text, whole.length > 0 ? { mip_rel_gap: 1e-9, time_limit: 60 } : {});
  if (answer.Status !== "Optimal") return null;
  const columns = answer.Columns as Readonly<Record<string, { readonly Primal?: number }>>;
  return { cost: answer.ObjectiveValue, at: (name) => columns[name]?.Primal ?? 0 };
}

/** What a mix of given shares costs for each bed, and by how much it misses what caps allow (relative). */
function judged(spec: FarmSpec, rowsOf: readonly (readonly PlainRow[])[], c: readonly number[]) {
  const price = spec.materials.reduce((sum, material, a) => sum + cheapest(material) * c[a]!, 0);
  let missed = 0;
  const kg = rowsOf.map((rows) => {
    let need = 0;
    for (const { g, sense, bound } of rows)
      if (sense === ">=") need = Math.max(need, bound / Math.max(1e-12, dot(g, c)));
    for (const { g, sense, bound } of rows)
      if (sense === "<=")
        missed += Math.max(0, (need * dot(g, c) - bound) / Math.max(bound, 1e-9 + need * 0.1));
    return need;
  });
  return { cost: price * kg.reduce((sum, one) => sum + one, 0), missed, kg };
}

const dot = (a: readonly number[], b: readonly number[]): number =>
  a.reduce((sum, v, i) => sum + v * b[i]!, 0);

/**
 * The least cost by weight of one mix that a search over shares and rates finds from several starts.
 * @returns null where no start led to a mix that feeds all.
 */
export async function searchedCost(spec: FarmSpec, seed: number, starts = 3): Promise<number | null> {
  const rowsOf = spec.beds.map((bed) => plainRows(spec, bed));
  const prices = spec.materials.map(cheapest);
  const r = seeded(seed * 31 + 11);
  let best: number | null = null;
  for (let start = 0; start < starts; start++) {
    let c = prices.map(() => r.between(0.05, 1));
    const sum = c.reduce((a, b) => a + b, 0);
    c = c.map((v) => v / sum);
    let here = judged(spec, rowsOf, c);
    // Missing a cap costs more than any mix.
    const big = 50 * here.cost;
    const merit = ({ cost, missed }: typeof here): number => cost + big * missed;
    for (let radius = 0.5, step = 0; radius > 1e-10 && step < 250; step++) {
      const price = dot(prices, c);
      const bounds = [
        ...c.map((v, a) => [`c${a}`, Math.max(0, v - radius), Math.min(1, v + radius)] as const),
        ...here.kg.map((d, b) => [`d${b}`, d * Math.max(0, 1 - radius), d * (1 + radius)] as const),
      ];
      const at = c;
      const model: Model = {
        cost: [
          ...at.map((_, a): Term => [prices[a]! * here.kg.reduce((x, y) => x + y, 0), `c${a}`]),
          ...here.kg.map((_, b): Term => [price, `d${b}`]),
          ...rowsOf.flatMap((rows, b) => rows.map((_, i): Term => [big, `e${b}x${i}`])),
        ],
        rows: [
          { terms: at.map((_, a): Term => [1, `c${a}`]), sense: "=", rhs: 1 },
          ...rowsOf.flatMap((rows, b) =>
            rows.map(({ g, sense, bound }, i) => {
              const d = here.kg[b]!;
              const scale = Math.max(bound, 1e-9 + d * 0.1);
              const give = (sense === ">=" ? 1 : -1) as 1 | -1;
              return {
                terms: [
                  ...at.map((_, a): Term => [(d * g[a]!) / scale, `c${a}`]),
                  [dot(g, at) / scale, `d${b}`] as Term,
                  [give, `e${b}x${i}`] as Term,
                ],
                sense,
                rhs: (bound + d * dot(g, at)) / scale,
              };
            }),
          ),
        ],
        bounds,
      };
      const found = await solve(model);
      if (!found) {
        radius /= 4;
        continue;
      }
      const raw = at.map((_, a) => Math.max(0, found.at(`c${a}`)));
      const whole = raw.reduce((x, y) => x + y, 0);
      const next = raw.map((v) => v / whole);
      const there = judged(spec, rowsOf, next);
      const gain = merit(here) - merit(there);
      if (gain > 1e-13 * merit(here)) {
        c = next;
        here = there;
        radius = Math.min(0.5, radius * 1.5);
      } else radius /= 3;
    }
    if (here.missed < 1e-8 && (best === null || here.cost < best)) best = here.cost;
  }
  return best;
}

/**
 * The least money for whole packs that feed groups of beds with one mix each, stock first.
 * @param within instead, the fewest materials that a purchase of so much money can do with.
 */
export async function packsTotal(
  spec: FarmSpec,
  groups: readonly (readonly number[])[],
  within?: number,
): Promise<number | null> {
  const { materials, beds } = spec;
  const rows: Model["rows"][number][] = [];
  const touches = beds.map((): number[] => []);
  // By bed: kg that its needs could call for, to which its part of the heap is scaled.
  const size = beds.map(({ areaM2, need }) => areaM2 * (need[0] + need[1] + need[2]) * 10);
  groups.forEach((group, q) => {
    for (const b of group) {
      for (const { g, sense, bound } of plainRows(spec, beds[b]!))
        rows.push({
          terms: [...g.map((v, a): Term => [v, `x${q}m${a}`]), [-bound / size[b]!, `h${b}`]],
          sense,
          rhs: 0,
        });
      rows.push({ terms: [[1, `h${b}`]], sense: ">=", rhs: size[b]! });
    }
    const all = group.reduce((sum, b) => sum + size[b]!, 0);
    rows.push({ terms: group.map((b): Term => [size[b]! / all, `w${b}`]), sense: "<=", rhs: 1 });
  });
  const whole: string[] = [];
  const cost: Term[] = [];
  materials.forEach(({ packs, stockKg }, a) => {
    const terms = groups.map((_, q): Term => [1, `x${q}m${a}`]);
    packs.forEach(({ kg, price }, k) => {
      whole.push(`p${a}k${k}`);
      cost.push([price, `p${a}k${k}`]);
      terms.push([-kg, `p${a}k${k}`]);
    });
    rows.push({ terms, sense: "<=", rhs: stockKg });
  });
  const aim: Term[] = within === undefined ? cost : materials.map((_, a): Term => [1, `u${a}`]);
  if (within !== undefined) {
    rows.push({ terms: cost, sense: "<=", rhs: within + 0.001 });
    materials.forEach((material, a) => {
      const most = material.stockKg + within / cheapest(material);
      const used = groups.map((_, q): Term => [1, `x${q}m${a}`]);
      rows.push({ terms: [...used, [-most, `u${a}`]], sense: "<=", rhs: 0 });
      rows.push({ terms: [[1, `u${a}`]], sense: "<=", rhs: 1 });
      whole.push(`u${a}`);
    });
  }
  for (let round = 0; round < 80; round++) {
    const tangents = groups.flatMap((group) => {
      const all = group.reduce((sum, b) => sum + size[b]!, 0);
      return group.flatMap((b) =>
        touches[b]!.map((at) => ({
          terms: [[1, `w${b}`] as Term, [all / (at * at), `h${b}`] as Term],
          sense: ">=" as const,
          rhs: (2 * all) / at,
        })),
      );
    });
    const found = await solve({ cost: aim, rows: [...rows, ...tangents], whole });
    if (!found) return null;
    let worst = 0;
    for (const group of groups) {
      const parts = group.map((b) => size[b]! / found.at(`h${b}`));
      const sum = parts.reduce((x, y) => x + y, 0);
      worst = Math.max(worst, sum - 1);
      if (sum > 1 + 1e-7)
        group.forEach((b, i) => {
          touches[b]!.push((size[b]! / parts[i]!) * sum);
        });
    }
    if (worst <= 1e-7) return found.cost;
  }
  throw new Error("the reference did not settle");
}
