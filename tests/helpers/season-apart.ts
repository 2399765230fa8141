/**
 * Random seasons that have gone wrong, and the cheapest rest of each worked out a second time from the documents alone:
 * releases, uptake, leaching, what a reading says, caps and stock in plain numbers; certainty as a covariance matrix where
 * the project moves and shrinks spreads; the cone by cutting planes around HiGHS. It shares no code with the project.
 */

import { seeded } from "./random.ts";
import { available, highs } from "./reference-model.ts";

type Pair = [number, number];
interface Pool {
  atOnce: number;
  later: number;
  halfLife: number;
}
interface Material {
  id: string;
  N: number;
  K2O: number;
  P2O5: number;
  pricePerKg: number;
  shedKg: number;
  pool: Pool;
}
export interface Event {
  day: number;
  spread?: Record<string, number>;
  placement?: "band" | "hole" | "broadcast" | "surface";
  rainMm?: number;
  evaporationMm?: number;
  ppm?: number;
  depthCm?: number;
}
export interface ApartSeason {
  materials: Material[];
  soil: Pair[];
  seasonDays: number;
  needN: number;
  mostN: number;
  needK: number;
  capP: number;
  uptake: Pair[];
  efficiency: number;
  creditN: number;
  creditDay: number;
  creditPool: Pool;
  rounds: { name: string; day: number }[];
  areaM2: number;
  holds: number;
  rootsM: number;
  maxFirst: number;
  events: Event[];
  on: number;
  p: number;
}

// The spreads of how-sure.md, section 1.4, for materials that state no kind and an inline release.
const LOT_N = 0.08;
const LOT_K = 0.1;
const INLINE = 0.18;
const COMMON = 0.08;
const CREDIT = 0.35;
const SPREADING = 0.03;
const SOIL_C = 1.2;
const DEPTH: Record<string, number> = { band: 0.05, hole: 0.1, broadcast: 0.15, surface: 0 };

/** A season by its number. */
export function apartSeason(seed: number): ApartSeason {
  const random = seeded(24_000 + seed);
  const between = (low: number, high: number): number => low + (high - low) * random.next();
  const yes = (chance: number): boolean => random.next() < chance;
  const materials = ["alpha", "beta", "gamma"].map(
    (id, k): Material => ({
      id,
      N: [between(0.1, 0.14), between(0.03, 0.06), 0][k]!,
      K2O: [0, between(0.01, 0.03), between(0.2, 0.5)][k]!,
      P2O5: [0, between(0.01, 0.03), 0][k]!,
      pricePerKg: [between(1.5, 3), between(0.4, 0.9), between(1, 2)][k]!,
      shedKg: yes(0.5) ? Math.round(between(0, 12)) : 0,
      pool: { atOnce: between(0, 0.3), later: between(0.3, 0.6), halfLife: between(8, 40) },
    }),
  );
  const [second, third] = [Math.round(between(18, 30)), Math.round(between(45, 60))];
  const on = third - Math.floor(between(0, 12));
  const events: Event[] = [
    {
      day: 0,
      spread: { alpha: between(4, 10), beta: between(5, 25), gamma: between(0, 3) },
      ...(yes(0.5)
        ? { placement: (["band", "hole", "broadcast", "surface"] as const)[random.whole(0, 3)]! }
        : {}),
    },
  ];
  if (yes(0.8))
    events.push({
      day: second + Math.floor(between(0, 6)),
      spread: { alpha: between(0, 6), beta: between(0, 15) },
      ...(yes(0.3) ? { placement: "broadcast" as const } : {}),
    });
  for (let k = Math.floor(between(0, 4)); k > 0; k--)
    events.push({
      day: Math.floor(between(3, on)),
      rainMm: between(10, 110),
      ...(yes(0.5) ? { evaporationMm: between(0, 15) } : {}),
    });
  if (yes(0.75)) events.push({ day: Math.floor(between(on - 10, on)), ppm: between(3, 30), depthCm: 30.48 });
  if (yes(0.3)) events.push({ day: on, ppm: between(3, 30), depthCm: 30.48 });
  return {
    materials,
    soil: [
      [0, between(15, 22)],
      [50, between(14, 20)],
      [100, between(9, 14)],
    ],
    seasonDays: 100,
    needN: between(2, 3.5),
    mostN: between(9, 14),
    needK: between(1, 3),
    capP: between(1.5, 4),
    uptake: [
      [0, 0],
      [second, 0.08],
      [third, 0.5],
      [75, 0.85],
      [100, 1],
    ],
    efficiency: yes(0.5) ? 1 : 0.8,
    creditN: yes(0.7) ? between(0.2, 0.8) : 0,
    creditDay: -14,
    creditPool: { atOnce: 0.1, later: 0.6, halfLife: 30 },
    rounds: [
      { name: "first", day: 0 },
      { name: "second", day: second },
      { name: "third", day: third },
    ],
    areaM2: 223,
    holds: between(0.15, 0.4),
    rootsM: between(0.25, 0.6),
    maxFirst: between(30, 90),
    events: events.sort((a, b) => a.day - b.day),
    on,
    p: [0.5, 0.8, 0.9, 0.95][random.whole(0, 3)]!,
  };
}

/** The same as files: a plan and a season. */
export function apartFiles(s: ApartSeason): { plan: string; season: string } {
  const percent = (share: number) => `${share * 100}%`;
  const pool = ({ atOnce, later, halfLife }: Pool) => ({
    at_once: percent(atOnce),
    later: percent(later),
    half_life: `${halfLife} days`,
  });
  const byDay = (pairs: Pair[], text: (y: number) => string) =>
    Object.fromEntries(pairs.map(([x, y]) => [x, text(y)]));
  const plan = {
    plan: "apart",
    units: "metric",
    planted: "2027-05-01",
    amendments: Object.fromEntries(
      s.materials.map((m) => [
        m.id,
        {
          analysis: {
            ...(m.N > 0 ? { N: m.N * 100 } : {}),
            ...(m.K2O > 0 ? { K2O: m.K2O * 100 } : {}),
            ...(m.P2O5 > 0 ? { P2O5: m.P2O5 * 100 } : {}),
          },
          bulk: { price: m.pricePerKg, per: "kg" },
          release: { N: pool(m.pool), other: "at-once" },
        },
      ]),
    ),
    target: {
      target: "Crop",
      season: `${s.seasonDays} days`,
      need: {
        per: "bed",
        N: { min: `${s.needN} kg`, max: `${s.mostN} kg`, efficiency: percent(s.efficiency) },
        K2O: `${s.needK} kg`,
      },
      applied_max: { per: "bed", P2O5: `${s.capP} kg` },
      uptake: { N: byDay(s.uptake, percent) },
    },
    bed: { area: `${s.areaM2} m2` },
    soil_temperature: byDay(s.soil, (c) => `${c} C`),
    soil: { holds: percent(s.holds), roots: `${s.rootsM} m` },
    ...(s.creditN > 0
      ? {
          credits: [
            {
              from: "clover",
              per: "bed",
              N: `${s.creditN} kg`,
              release: pool(s.creditPool),
              day: s.creditDay,
            },
          ],
        }
      : {}),
    applications: s.rounds,
    limits: { alpha: { max: `${s.maxFirst} kg`, max_share: "30%" } },
    ...(s.p > 0.5 ? { sure: { N: percent(s.p) } } : {}),
  };
  const log = s.events.map(({ day, spread, placement, rainMm, evaporationMm, ppm, depthCm }) => {
    if (spread)
      return {
        day,
        spread: Object.fromEntries(Object.entries(spread).map(([id, kg]) => [id, `${kg} kg`])),
        ...(placement ? { placement } : {}),
      };
    if (rainMm !== undefined)
      return {
        day,
        rain: `${rainMm} mm`,
        ...(evaporationMm === undefined ? {} : { evaporation: `${evaporationMm} mm` }),
      };
    return { day, soil_nitrate: `${ppm} ppm`, depth: `${depthCm} cm`, as: "NO3-N" };
  });
  // The rounds that were given are named by lines of their own without weight, so that they are done.
  const done = s.rounds.filter(({ day }) => day < s.on);
  const season = {
    season: "plan.yaml",
    mixes: { A: { alpha: "1 kg", beta: "1 kg" } },
    batches: { A: 1 },
    shed: Object.fromEntries(s.materials.map((m) => [m.id, `${m.shedKg} kg`])),
    log: [
      ...s.materials.map((m) => ({
        day: -5,
        bought: m.id,
        weight: `${1e-9 + s.events.reduce((sum, e) => sum + (e.spread?.[m.id] ?? 0), 0)} kg`,
      })),
      ...done.map(({ name, day }) => ({ day, spread: name, part: "0%" })),
      ...log,
    ],
  };
  return { plan: JSON.stringify(plan, null, 1), season: JSON.stringify(season, null, 1) };
}

const lin = (points: Pair[], x: number): number => {
  if (x <= points[0]![0]) return points[0]![1];
  for (let k = 1; k < points.length; k++)
    if (x <= points[k]![0]) {
      const [[x0, y0], [x1, y1]] = [points[k - 1]!, points[k]!];
      return y0 + ((y1 - y0) * (x - x0)) / (x1 - x0);
    }
  return points.at(-1)![1];
};

/** An amount as a number and what each doubt moves of it. */
interface Linear {
  a: number;
  v: Record<string, number>;
}
const plus = (x: Linear, y: Linear, times = 1): Linear => {
  const v = { ...x.v };
  for (const [k, by] of Object.entries(y.v)) v[k] = (v[k] ?? 0) + times * by;
  return { a: x.a + times * y.a, v };
};

/** What a season comes to by the documents: the doubts' mean and covariance, what was lost, and every supply as a Linear. */
export class Apart {
  readonly keys: string[];
  mean: Record<string, number> = {};
  readonly C: number[][];
  lost: Linear = { a: 0, v: {} };
  readonly losses: { day: number; share: (water: number) => number; takenUp: number }[] = [];

  constructor(readonly s: ApartSeason) {
    this.keys = [
      ...s.materials.flatMap((m) => [`lot ${m.id} N`, `lot ${m.id} K2O`]),
      "releases",
      "warm",
      "credit",
      "water",
      ...s.events.map((_, k) => `gave ${k}`),
      ...s.rounds.map((_, t) => `round ${t}`),
    ];
    this.C = this.keys.map((_, i) => this.keys.map((__, j) => (i === j ? 1 : 0)));
    const bySpread = s.events
      .map((event, order) => ({ event, order }))
      .sort(
        (a, b) =>
          a.event.day - b.event.day || Number(a.event.ppm !== undefined) - Number(b.event.ppm !== undefined),
      );
    this.layers(bySpread.map(({ event }) => event));
  }

  share(m: { pool: Pool }, from: number, day: number, warmer = 0): number {
    return available(
      m.pool,
      from,
      day,
      this.s.soil.map(([d, c]): Pair => [d, c + warmer]),
    );
  }

  /** What 1 kg of a material spread on a day brings of a nutrient. */
  brings(m: Material, nutrient: "N" | "K2O", from: number, day: number, round: string): Linear {
    if (day <= from) return { a: 0, v: {} };
    if (nutrient === "K2O")
      return { a: m.K2O, v: { [`lot ${m.id} K2O`]: LOT_K * m.K2O, [round]: SPREADING * m.K2O } };
    const a = m.N * this.share(m, from, day);
    const slope = m.N * (this.share(m, from, day, 0.5) - this.share(m, from, day, -0.5));
    return {
      a,
      v: {
        [`lot ${m.id} N`]: Math.hypot(LOT_N, Math.sqrt(INLINE ** 2 - COMMON ** 2)) * a,
        releases: COMMON * a,
        warm: SOIL_C * slope,
        [round]: SPREADING * a,
      },
    };
  }

  credit(day: number): Linear {
    const { creditN, creditDay, creditPool } = this.s;
    if (creditN === 0) return { a: 0, v: {} };
    const of = { pool: creditPool };
    const a = creditN * this.share(of, creditDay, day);
    const slope = creditN * (this.share(of, creditDay, day, 0.5) - this.share(of, creditDay, day, -0.5));
    return { a, v: { credit: CREDIT * a, releases: COMMON * a, warm: SOIL_C * slope } };
  }

  /** All that credits and spreadings have brought by a day. */
  given(
    nutrient: "N" | "K2O",
    day: number,
    only: (event: Event) => boolean = () => true,
    credit = true,
  ): Linear {
    let sum: Linear = nutrient === "N" && credit ? this.credit(day) : { a: 0, v: {} };
    this.s.events.forEach((event, k) => {
      if (!event.spread || !only(event)) return;
      for (const [id, kg] of Object.entries(event.spread)) {
        const m = this.s.materials.find((one) => one.id === id)!;
        sum = plus(sum, this.brings(m, nutrient, event.day, day, `gave ${k}`), kg);
      }
    });
    return sum;
  }

  expect({ a, v }: Linear): number {
    return Object.entries(v).reduce((sum, [k, by]) => sum + by * (this.mean[k] ?? 0), a);
  }

  times(v: Record<string, number>): number[] {
    const x = this.keys.map((k) => v[k] ?? 0);
    return this.C.map((row) => row.reduce((sum, c, j) => sum + c * x[j]!, 0));
  }

  variance(v: Record<string, number>): number {
    return this.times(v).reduce((sum, c, i) => sum + c * (v[this.keys[i]!] ?? 0), 0);
  }

  /** X of Burns's equation for a drainage of I metres, mixed to a depth (mean over the distances, by Simpson). */
  x(I: number, depth: number, holds = this.s.holds): number {
    if (I <= 0) return 0;
    const z = this.s.rootsM;
    const h = Math.min(depth, z);
    const f = (d: number) => Math.exp((-(z - d) * holds) / I);
    if (h === 0) return f(0);
    let sum = 0;
    const n = 400;
    for (let i = 0; i <= n; i++) sum += (i === 0 || i === n ? 1 : i % 2 ? 4 : 2) * f((h * i) / n);
    return sum / (3 * n);
  }

  takenUp(day: number): number {
    // The need is divided by the efficiency; the crop takes up the need itself.
    return this.s.needN * lin(this.s.uptake, Math.min(day, this.s.seasonDays));
  }

  private layers(events: Event[]): void {
    let lying: { since: number; depth: number; kg: number }[] = [];
    const seen: Record<string, number> = {};
    let drained = 0;
    let takenUp = 0;
    let lacking = 0;
    const depths = [0, 0.05, 0.1, 0.15];
    const atDepth = (depth: number, day: number): number =>
      this.expect(
        this.given("N", day, (e) => (e.placement ? DEPTH[e.placement]! : 0) === depth, depth === 0),
      );
    const bring = (day: number): void => {
      for (const depth of depths) {
        const now = atDepth(depth, day);
        const more = now - (seen[depth] ?? 0);
        seen[depth] = now;
        if (more > 0) lying.push({ since: drained, depth, kg: more });
        else lacking -= more;
      }
      let wants = lacking + this.takenUp(day) - takenUp;
      takenUp = this.takenUp(day);
      for (const one of lying) {
        const take = Math.min(one.kg, Math.max(0, wants));
        one.kg -= take;
        wants -= take;
      }
      lacking = wants;
      lying = lying.filter(({ kg }) => kg > 0);
    };
    const there = () => lying.reduce((sum, { kg }) => sum + kg, 0);
    for (const e of events) {
      if (e.rainMm !== undefined) {
        bring(e.day);
        const I = Math.max(0, e.rainMm - (e.evaporationMm ?? 0)) / 1000;
        // The soil's water as the readings so far put it: a standard deviation is 5 points.
        const told = this.mean.water ?? 0;
        const holds = this.s.holds + 0.05 * told;
        const part = (one: { since: number; depth: number }, theta = holds) => {
          const had = this.x(drained - one.since, one.depth, theta);
          return (this.x(drained - one.since + I, one.depth, theta) - had) / (1 - had);
        };
        const take = (theta: number) => lying.reduce((sum, one) => sum + one.kg * part(one, theta), 0);
        const lost = take(holds);
        const perHolds = (take(holds - 1e-3) - take(holds + 1e-3)) / 2e-3;
        const all = there();
        const [then, had] = [lying, drained];
        const shareAt = (water: number) =>
          then.reduce((sum, { since, depth, kg }) => {
            const theta = Math.max(0.01, this.s.holds + 0.05 * water);
            const before = this.x(had - since, depth, theta);
            return sum + (kg * (this.x(had - since + I, depth, theta) - before)) / (1 - before);
          }, 0) / all;
        const lies = plus(plus(this.given("N", e.day), this.lost, -1), { a: -takenUp, v: {} });
        lying = lying.map((one) => ({ ...one, kg: one.kg * (1 - part(one)) }));
        drained += I;
        if (!(lost > 0)) continue;
        const share = lost / all;
        const v: Record<string, number> = {};
        if (this.expect(lies) > 0) for (const [k, by] of Object.entries(lies.v)) v[k] = share * by;
        v.water = (v.water ?? 0) - 0.05 * perHolds;
        const mean = Object.entries(v).reduce((sum, [k, by]) => sum + by * (this.mean[k] ?? 0), 0);
        this.lost = plus(this.lost, { a: lost - mean, v });
        this.losses.push({ day: e.day, share: shareAt, takenUp });
      } else if (e.ppm !== undefined) {
        const lies = plus(plus(this.given("N", e.day), this.lost, -1), { a: -this.takenUp(e.day), v: {} });
        const z = e.ppm * e.depthCm! * 0.147 * (this.s.areaM2 / 10_000);
        const M = this.expect(lies);
        const Ch = this.times(lies.v);
        const hCh = this.variance(lies.v);
        const r2 = (0.15 * Math.max(M, z)) ** 2 + (0.1 * this.takenUp(e.day)) ** 2;
        bring(e.day);
        this.keys.forEach((k, i) => {
          this.mean[k] = (this.mean[k] ?? 0) + (Ch[i]! * (z - M)) / (hCh + r2);
        });
        for (let i = 0; i < Ch.length; i++)
          for (let j = 0; j < Ch.length; j++) this.C[i]![j] = this.C[i]![j]! - (Ch[i]! * Ch[j]!) / (hCh + r2);
        const after = this.expect(lies);
        const had = there();
        if (had > 0) lying = lying.map((one) => ({ ...one, kg: (one.kg * Math.max(0, after)) / had }));
        else if (after > 0) lying.push({ since: drained, depth: 0, kg: after });
        lacking = Math.max(0, -after);
        for (const depth of depths) seen[depth] = atDepth(depth, e.day);
      }
    }
  }

  /** Rounds that are left. */
  get left(): { name: string; day: number; t: number }[] {
    return this.s.rounds.map((round, t) => ({ ...round, t })).filter(({ day }) => day >= this.s.on);
  }

  /** Days on which nitrogen is checked and can still be changed. */
  get checks(): number[] {
    return [...this.left.slice(1).map(({ day }) => day), this.s.seasonDays];
  }
}

/** Standard normal quantile by bisection on an error function by its series. */
export function quantile(p: number): number {
  const phi = (x: number): number => {
    let term = x;
    let sum = x;
    for (let n = 1; n < 200; n++) {
      term *= (-x * x) / (2 * n);
      sum += term / (2 * n + 1);
    }
    return 0.5 + sum / Math.sqrt(2 * Math.PI);
  };
  let [low, high] = [-5, 5];
  for (let k = 0; k < 80; k++) {
    const middle = (low + high) / 2;
    if (phi(middle) < p) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

/**
 * The least cost of the rest, by weight, nitrogen met in a share p of seasons on every day that is checked.
 * @returns null where there is none.
 */
export async function apartCost(apart: Apart, p: number): Promise<{ cost: number; kg: number[][] } | null> {
  const { s, left } = apart;
  const solver = await highs();
  const name = (a: number, t: number) => `x_${a}_${t}`;
  const spread = (id: string) => s.events.reduce((sum, e) => sum + (e.spread?.[id] ?? 0), 0);
  const rows: string[] = [];
  const add = (terms: [number, string][], sense: string, rhs: number): void => {
    const text = terms
      .filter(([v]) => v !== 0)
      .map(([v, n]) => `${v < 0 ? "-" : "+"} ${Math.abs(v)} ${n}`)
      .join(" ");
    rows.push(` c${rows.length}: ${text || "0 x_0_0"} ${sense} ${rhs}`);
  };
  const cells = s.materials.flatMap((m, a) => left.map((round, t) => ({ m, a, t, round })));
  /** A need as a Linear for what is there, and one for 1 kg of each cell. */
  const supply = (nutrient: "N" | "K2O", day: number) => ({
    fixed: nutrient === "N" ? plus(apart.given("N", day), apart.lost, -1) : apart.given("K2O", day),
    each: cells.map(({ m, round }) => apart.brings(m, nutrient, round.day, day, `round ${round.t}`)),
  });
  const needs = apart.checks.map((day) => ({
    ...supply("N", day),
    need: (s.needN / s.efficiency) * lin(s.uptake, day),
  }));
  for (const { fixed, each, need } of needs)
    add(
      cells.map(({ a, t }, k) => [apart.expect(each[k]!), name(a, t)]),
      ">=",
      need - apart.expect(fixed),
    );
  const end = supply("N", s.seasonDays);
  const most = Math.max(s.mostN / s.efficiency, apart.expect(end.fixed));
  add(
    cells.map(({ a, t }, k) => [apart.expect(end.each[k]!), name(a, t)]),
    "<=",
    most - apart.expect(end.fixed),
  );
  const K = supply("K2O", s.seasonDays);
  add(
    cells.map(({ a, t }, k) => [apart.expect(K.each[k]!), name(a, t)]),
    ">=",
    s.needK - apart.expect(K.fixed),
  );
  const P = s.materials.reduce((sum, m) => sum + m.P2O5 * spread(m.id), 0);
  add(
    cells.map(({ m, a, t }) => [m.P2O5, name(a, t)]),
    "<=",
    Math.max(0, s.capP - P),
  );
  add(
    cells.filter(({ a }) => a === 0).map(({ a, t }) => [1, name(a, t)]),
    "<=",
    Math.max(0, s.maxFirst - spread("alpha")),
  );
  s.materials.forEach((m, a) => {
    add([...left.map((_, t): [number, string] => [1, name(a, t)]), [-1, `buy_${a}`]], "<=", m.shedKg);
  });
  const objective = s.materials.map((m, a) => `+ ${m.pricePerKg} buy_${a}`).join(" ");
  const z = p > 0.5 ? quantile(p) : 0;
  for (let round = 0; round < 200; round++) {
    const text = `Minimize\n obj: ${objective}\nSubject To\n${rows.join("\n")}\nEnd\n`;
    const answer = solver.solve(text, {
      output_flag: false,
      primal_feasibility_tolerance: 1e-10,
      dual_feasibility_tolerance: 1e-10,
    });
    if (answer.Status !== "Optimal") return null;
    const x = cells.map(({ a, t }) => answer.Columns[name(a, t)]?.Primal ?? 0);
    let missed = false;
    for (const { fixed, each, need } of z > 0 ? needs : []) {
      const total = each.reduce((sum, one, k) => plus(sum, one, x[k]!), fixed);
      const sd = Math.sqrt(Math.max(0, apart.variance(total.v)));
      if (apart.expect(total) - z * sd >= need - 1e-10) continue;
      missed = true;
      // The tangent of z sqrt(v'Cv) at x.
      const Cv = apart.times(total.v);
      const along = (v: Record<string, number>) =>
        apart.keys.reduce((sum, k, i) => sum + Cv[i]! * (v[k] ?? 0), 0) / sd;
      add(
        cells.map(({ a, t }, k) => [apart.expect(each[k]!) - z * along(each[k]!.v), name(a, t)]),
        ">=",
        need - apart.expect(fixed) + z * along(fixed.v),
      );
    }
    if (!missed)
      return {
        cost: answer.ObjectiveValue,
        kg: s.materials.map((_, a) =>
          left.map((__, t) => x[cells.findIndex((c) => c.a === a && c.t === t)]!),
        ),
      };
  }
  throw new Error("the cutting planes did not end");
}

/** How often nitrogen is met at the season's end with amounts (by material and round left), in so many drawn seasons. */
export function apartChance(apart: Apart, kg: number[][], seasons: number, seed: number): number {
  const { s, left, keys, C } = apart;
  const random = seeded(seed);
  const normal = (): number =>
    Math.sqrt(-2 * Math.log(1 - random.next())) * Math.cos(2 * Math.PI * random.next());
  // Cholesky, with what rounding leaves of a doubt that is known taken as nothing.
  const L = C.map((row) => row.map(() => 0));
  for (let i = 0; i < keys.length; i++)
    for (let j = 0; j <= i; j++) {
      let sum = C[i]![j]!;
      for (let k = 0; k < j; k++) sum -= L[i]![k]! * L[j]![k]!;
      L[i]![j] = i === j ? Math.sqrt(Math.max(0, sum)) : L[j]![j]! > 1e-9 ? sum / L[j]![j]! : 0;
    }
  const index = Object.fromEntries(keys.map((k, i) => [k, i]));
  // Releases at 33 temperatures, read off a line between them.
  const steps = Array.from({ length: 33 }, (_, k) => (k - 16) * 0.3);
  const table = new Map<string, number[]>();
  const shareAt = (m: { pool: Pool }, id: string, from: number, day: number, warm: number): number => {
    const key = `${id} ${from} ${day}`;
    const row =
      table.get(key) ??
      table
        .set(
          key,
          steps.map((c) => apart.share(m, from, day, c)),
        )
        .get(key)!;
    const at = Math.min(31.999, Math.max(0, warm / 0.3 + 16));
    const k = Math.floor(at);
    return row[k]! + (at - k) * (row[k + 1]! - row[k]!);
  };
  const spreads = [
    ...s.events.flatMap((e, k) =>
      e.spread ? Object.entries(e.spread).map(([id, w]) => ({ id, w, day: e.day, key: `gave ${k}` })) : [],
    ),
    ...s.materials.flatMap((m, a) =>
      left.map((round, t) => ({ id: m.id, w: kg[a]![t]!, day: round.day, key: `round ${round.t}` })),
    ),
  ].filter(({ w }) => w > 0);
  const ownRelease = Math.sqrt(INLINE ** 2 - COMMON ** 2);
  const own = Math.hypot(LOT_N, ownRelease);
  let met = 0;
  const u = new Array<number>(keys.length).fill(0);
  const xi = new Array<number>(keys.length).fill(0);
  for (let n = 0; n < seasons; n++) {
    for (let i = 0; i < u.length; i++) u[i] = normal();
    for (let i = 0; i < u.length; i++) {
      let sum = apart.mean[keys[i]!] ?? 0;
      for (let j = 0; j <= i; j++) sum += L[i]![j]! * u[j]!;
      xi[i] = sum;
    }
    const of = (key: string) => xi[index[key]!]!;
    // A lot's doubt is shared out between what it holds and what it gives; across that direction nothing was learnt.
    const lots = new Map(
      s.materials.map((m) => {
        const lot = of(`lot ${m.id} N`);
        const across = normal();
        return [
          m.id,
          {
            holds: 1 + LOT_N * ((LOT_N / own) * lot + (ownRelease / own) * across),
            gives: 1 + ownRelease * ((ownRelease / own) * lot - (LOT_N / own) * across),
          },
        ] as const;
      }),
    );
    const common = 1 + COMMON * of("releases");
    const warm = SOIL_C * of("warm");
    const supplied = (day: number): number => {
      let sum =
        s.creditN === 0
          ? 0
          : s.creditN *
            shareAt({ pool: s.creditPool }, "credit", s.creditDay, day, warm) *
            common *
            (1 + CREDIT * of("credit"));
      for (const { id, w, day: from, key } of spreads) {
        const m = s.materials.find((one) => one.id === id)!;
        if (m.N === 0 || day <= from) continue;
        const { holds, gives } = lots.get(id)!;
        const part = Math.min(1, Math.max(0, shareAt(m, id, from, day, warm) * common * gives));
        sum += w * m.N * part * holds * Math.max(0, 1 + SPREADING * of(key));
      }
      return sum;
    };
    let lost = 0;
    for (const { day, share, takenUp } of apart.losses)
      lost += Math.max(0, supplied(day) - takenUp - lost) * Math.min(1, Math.max(0, share(of("water"))));
    if (supplied(s.seasonDays) - lost >= s.needN / s.efficiency) met++;
  }
  return met / seasons;
}
