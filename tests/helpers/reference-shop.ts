/**
 * Whole-pack purchases written a second time, from plain numbers, for solvers from elsewhere (HiGHS, GLPK). It shares
 * no code with the project: the rows of the mix come from the reference model beside it, and packs, loose weight,
 * stock and delivery are written out again here, with delivery as an order less a refund.
 */
import type { Plan, ReleaseCurve } from "../../src/model.ts";
import type { SpecCurve } from "./random-plan.ts";
import type { ShopSpec } from "./random-shop.ts";
import { highs, referenceText } from "./reference-model.ts";

export interface Reference {
  readonly cost: ReadonlyMap<string, number>;
  readonly rows: readonly {
    readonly terms: readonly (readonly [number, string])[];
    readonly sense: "<=" | ">=" | "=";
    readonly rhs: number;
  }[];
  readonly upper: ReadonlyMap<string, number>;
  readonly whole: readonly string[];
}

/** No purchase worth looking at is dearer, no blend heavier, no application of more batches. */
const MONEY = 20_000;
const KG = 5_000;
const BATCHES = 400;

/** What a purchase may have to keep to besides. */
export interface Further {
  /** Amendments in a blend at most, kg of each in a batch at least. */
  readonly most?: number;
  readonly leastKg?: number;
  /** Left of what is bought of any amendment at most: kg, or a share. */
  readonly left?: { readonly kg: number } | { readonly share: number };
}

/** The purchase of a spec as a model. */
export function referenceShop(spec: ShopSpec, further: Further = {}): Reference {
  const mix = parse(referenceText(spec));
  const cost = new Map<string, number>();
  const rows = [...mix.rows];
  const upper = new Map(mix.upper);
  const whole: string[] = [];
  const goods = new Map<string, [number, string][]>();
  const heavy = new Map<string, [number, string][]>();
  spec.amendments.forEach((a, i) => {
    const supply: [number, string][] = [[-1, `bought_${i}`]];
    const paid = (name: string, price: number, kg: number, seller: string | null = null): void => {
      cost.set(name, price);
      const supplier = seller ?? spec.supplierOf[a.id];
      if (supplier === undefined) return;
      goods.set(supplier, [...(goods.get(supplier) ?? []), [price, name]]);
      heavy.set(supplier, [...(heavy.get(supplier) ?? []), [kg, name]]);
    };
    a.packs.forEach((pack, k) => {
      whole.push(`pack_${i}_${k}`);
      supply.push([pack.kg, `pack_${i}_${k}`]);
      paid(`pack_${i}_${k}`, pack.price, pack.kg, spec.packSupplierOf[a.id]?.[k] ?? null);
    });
    if (a.bulkPerKg !== null) {
      supply.push([1, `loose_${i}`]);
      paid(`loose_${i}`, a.bulkPerKg, 1);
    }
    rows.push({ terms: supply, sense: ">=", rhs: 0 });
  });
  Object.entries(spec.suppliers).forEach(([id, supplier], s) => {
    const terms = goods.get(id);
    if (!terms) return;
    whole.push(`order_${s}`);
    upper.set(`order_${s}`, 1);
    cost.set(`order_${s}`, supplier.delivery);
    rows.push({ terms: [...terms, [-MONEY, `order_${s}`]], sense: "<=", rhs: 0 });
    const { perKg = 0, percent = 0, steps = [] } = supplier;
    const weight = heavy.get(id)!;
    const refund = supplier.freeOver === null ? null : `refund_${s}`;
    // Whatever the weight and the value ask, paid unless refunded.
    if (perKg > 0 || percent > 0) {
      cost.set(`freight_${s}`, 1);
      const asked = terms.map(([price, name], k): [number, string] => [
        -(percent * price + perKg * weight[k]![0]),
        name,
      ]);
      const waived: [number, string][] = refund ? [[percent * MONEY + perKg * KG, refund]] : [];
      rows.push({ terms: [[1, `freight_${s}`], ...asked, ...waived], sense: ">=", rhs: 0 });
    }
    if (steps.length > 0) {
      // The charge is at least that of a step once what is lighter does not hold the order.
      cost.set(`stepped_${s}`, 1);
      steps.forEach(({ price }, k) => {
        const beyond = k === 0 ? `order_${s}` : `beyond_${s}_${k}`;
        if (k > 0) {
          whole.push(beyond);
          upper.set(beyond, 1);
          rows.push({ terms: [...weight, [-KG, beyond]], sense: "<=", rhs: steps[k - 1]!.upTo! + 1e-7 });
        }
        const back: [number, string][] = refund ? [[price, refund]] : [];
        rows.push({ terms: [[1, `stepped_${s}`], [-price, beyond], ...back], sense: ">=", rhs: 0 });
      });
      const last = steps.at(-1)!.upTo;
      if (last !== null) rows.push({ terms: weight, sense: "<=", rhs: last + 1e-7 });
    }
    if (supplier.freeOver === null) return;
    whole.push(`refund_${s}`);
    upper.set(`refund_${s}`, 1);
    cost.set(`refund_${s}`, -supplier.delivery);
    rows.push({ terms: [...terms, [-supplier.freeOver, `refund_${s}`]], sense: ">=", rhs: 0 });
    rows.push({
      terms: [
        [1, `refund_${s}`],
        [-1, `order_${s}`],
      ],
      sense: "<=",
      rhs: 0,
    });
  });
  const binary = (name: string): string => {
    whole.push(name);
    upper.set(name, 1);
    return name;
  };
  const { left, most, leastKg } = further;
  if (left)
    spec.amendments.forEach((a, i) => {
      const buys = binary(`buys_${i}`);
      const bought: [number, string][] = a.packs.map((pack, k) => [pack.kg, `pack_${i}_${k}`]);
      if (a.bulkPerKg !== null) bought.push([1, `loose_${i}`]);
      const [kept, free] = "kg" in left ? [1, left.kg] : [1 - left.share, 0];
      rows.push({ terms: [...bought, [-KG, buys]], sense: "<=", rhs: 0 });
      rows.push({
        terms: [
          ...bought.map(([v, name]): [number, string] => [v * kept, name]),
          ...spec.applications.map((_, t): [number, string] => [-1, `x_${i}_${t}`]),
          [KG, buys],
        ],
        sense: "<=",
        rhs: free - a.stockKg + KG,
      });
    });
  if (most === undefined && leastKg === undefined) return { cost, rows, upper, whole };
  const times = spec.applications.map((_, t) => t);
  (spec.blend === "one" ? [times] : times.map((t) => [t])).forEach((group, b) => {
    const uses = spec.amendments.map((_, i) => binary(`uses_${i}_${b}`));
    if (most !== undefined)
      rows.push({ terms: uses.map((name) => [1, name] as const), sense: "<=", rhs: most });
    // What is stirred together is divided into equal batches.
    const inAll = (i: number): [number, string][] => group.map((t) => [1, `x_${i}_${t}`]);
    spec.amendments.forEach((_, i) => {
      rows.push({ terms: [...inAll(i), [-KG, uses[i]!]], sense: "<=", rhs: 0 });
    });
    if (leastKg === undefined) return;
    const batches = `batches_${b}`;
    whole.push(batches);
    upper.set(batches, BATCHES);
    rows.push({ terms: [[1, batches]], sense: ">=", rhs: 1 });
    rows.push({
      terms: [...spec.amendments.flatMap((_, i) => inAll(i)), [-spec.batchKg, batches]],
      sense: "<=",
      rhs: 0,
    });
    spec.amendments.forEach((_, i) => {
      rows.push({
        terms: [...inAll(i), [-leastKg, batches], [-leastKg * BATCHES, uses[i]!]],
        sense: ">=",
        rhs: -leastKg * BATCHES,
      });
    });
  });
  return { cost, rows, upper, whole };
}

/** Rows and upper bounds of an LP text as the reference model writes it; its costs are left behind. */
function parse(text: string): Pick<Reference, "rows" | "upper"> {
  const rows: Reference["rows"][number][] = [];
  const upper = new Map<string, number>();
  for (const line of text.split("\n")) {
    const bound = /^ 0 <= (\S+) <= (\S+)$/.exec(line);
    if (bound) upper.set(bound[1]!, Number(bound[2]));
    const row = /^ c\d+: (.*) (<=|>=|=) (\S+)$/.exec(line);
    if (!row) continue;
    const found = [...row[1]!.matchAll(/([+-]) (\S+) (\S+)/g)].map(
      ([, sign, value, name]) => [sign === "-" ? -Number(value) : Number(value), name!] as const,
    );
    // A row without terms still says something: a need that nothing brings cannot be met.
    const terms = found.length > 0 ? found : ([[0, "x_0_0"]] as const);
    rows.push({ terms, sense: row[2] as "<=" | ">=" | "=", rhs: Number(row[3]) });
  }
  return { rows, upper };
}

/** As LP text. */
function referenceLp({ cost, rows, upper, whole }: Reference): string {
  const sum = (terms: readonly (readonly [number, string])[]) =>
    terms.map(([v, name]) => `${v < 0 ? "-" : "+"} ${Math.abs(v)} ${name}`).join("\n ");
  return [
    "Minimize",
    ` cost: ${sum([...cost].map(([name, v]) => [v, name]))}`,
    "Subject To",
    ...rows.map(({ terms, sense, rhs }, i) => ` c${i}: ${sum(terms)} ${sense} ${rhs}`),
    "Bounds",
    ...[...upper].map(([name, value]) => ` 0 <= ${name} <= ${value}`),
    "Generals",
    ...whole.map((name) => ` ${name}`),
    "End",
    "",
  ].join("\n");
}

/** The least total by HiGHS; null where it says there is none, undefined where it does not finish. */
export function highsTotal(
  spec: ShopSpec,
  seconds = 30,
  further: Further = {},
): Promise<number | null | undefined> {
  return highsLeast(referenceShop(spec, further), seconds);
}

/** The least of a model's costs by HiGHS; null where it says there is none, undefined where it does not finish. */
export async function highsLeast(model: Reference, seconds = 30): Promise<number | null | undefined> {
  const solver = await highs();
  const answer = solver.solve(referenceLp(model), {
    output_flag: false,
    time_limit: seconds,
    mip_rel_gap: 1e-8,
    mip_abs_gap: 1e-8,
    mip_feasibility_tolerance: 1e-9,
    primal_feasibility_tolerance: 1e-9,
  });
  if (answer.Status === "Infeasible") return null;
  return answer.Status === "Optimal" ? answer.ObjectiveValue : undefined;
}

/** The least total by GLPK; null where it says there is none, undefined where it does not finish. */
export async function glpkTotal(spec: ShopSpec, seconds = 10): Promise<number | null | undefined> {
  const { default: load } = await import("glpk.js/node");
  const glpk = await load();
  const { cost, rows, upper, whole } = referenceShop(spec);
  const names = new Set([...cost.keys(), ...rows.flatMap(({ terms }) => terms.map(([, name]) => name))]);
  const answer = await glpk.solve(
    {
      name: "purchase",
      objective: {
        direction: glpk.GLP_MIN,
        name: "cost",
        vars: [...cost].map(([name, coef]) => ({ name, coef })),
      },
      subjectTo: rows.map(({ terms, sense, rhs }, i) => ({
        name: `c${i}`,
        vars: terms.map(([coef, name]) => ({ name, coef })),
        bnds:
          sense === "="
            ? { type: glpk.GLP_FX, lb: rhs, ub: rhs }
            : sense === ">="
              ? { type: glpk.GLP_LO, lb: rhs, ub: 0 }
              : { type: glpk.GLP_UP, lb: 0, ub: rhs },
      })),
      bounds: [...names].map((name) => {
        const most = upper.get(name);
        return most === undefined
          ? { name, type: glpk.GLP_LO, lb: 0, ub: 0 }
          : { name, type: most > 0 ? glpk.GLP_DB : glpk.GLP_FX, lb: 0, ub: most };
      }),
      generals: [...whole],
    },
    { msglev: glpk.GLP_MSG_OFF, tmlim: seconds, mipgap: 0, presol: true },
  );
  const { status, z } = answer.result;
  if (status === glpk.GLP_OPT) return z;
  return status === glpk.GLP_NOFEAS || status === glpk.GLP_INFEAS ? null : undefined;
}

function specCurve(curve: ReleaseCurve): SpecCurve {
  return curve.kind === "pool"
    ? { atOnce: curve.atOnce, later: curve.later, halfLife: curve.halfLifeDays, q10: curve.q10 }
    : { points: curve.points.map(([x, y]) => [x, y]), q10: curve.q10 };
}

/** The plain numbers of a loaded plan. Reference temperatures other than 25 C are not covered. */
export function specOf(plan: Plan): ShopSpec {
  return {
    amendments: plan.amendments.map((a) => ({
      id: a.id,
      analysis: { ...a.analysis } as Record<string, number>,
      packs: a.packs.map((pack) => ({ kg: pack.sizeKg, price: pack.price })),
      bulkPerKg: a.bulkPricePerKg ?? null,
      stockKg: a.stockKg,
      release: {
        byNutrient: Object.fromEntries(
          Object.entries(a.release.byNutrient).map(([n, named]) => [n, specCurve(named.curve)]),
        ),
        other: specCurve(a.release.other.curve),
      },
      density: a.densityKgPerL ?? null,
    })),
    season: plan.seasonDays,
    areaM2: plan.bed.areaM2 ?? 1,
    plants: plan.bed.plants ?? 1,
    demands: Object.fromEntries(
      plan.demands.map((d) => [
        d.nutrient,
        {
          min: d.minKg,
          counts: d.counts ?? "available",
          max: d.maxKg,
          // A cap that gives way holds wherever the needs can be met under it.
          appliedMax: d.appliedMaxKg ?? d.appliedSoftMaxKg ?? null,
          aheadMax: d.aheadMaxKg,
          uptake: d.uptake ? d.uptake.map(([x, y]): [number, number] => [x, y]) : null,
        },
      ]),
    ),
    soil: plan.soilTemperatureC ? plan.soilTemperatureC.map(([x, y]): [number, number] => [x, y]) : null,
    credits: plan.credits.map((c) => ({
      day: c.day,
      content: { ...c.contentKg } as Record<string, number>,
      curve: specCurve(c.release.curve),
    })),
    applications: plan.applications.map(({ name, day, share }) => ({ name, day, share })),
    blend: plan.blend,
    limits: Object.fromEntries(
      plan.limits.map(({ id, notIn, ...rest }) => [
        id,
        { ...rest, notIn: notIn.map((t) => plan.applications[t]!.name) },
      ]),
    ),
    batchKg: plan.batch && "kg" in plan.batch ? plan.batch.kg : Infinity,
    scaleKg: plan.scaleKg,
    suppliers: Object.fromEntries(
      plan.suppliers.map((s) => [
        s.id,
        {
          delivery: s.delivery,
          freeOver: s.freeOver ?? null,
          perKg: s.perKg ?? 0,
          percent: s.percent ?? 0,
          steps: (s.steps ?? []).map(({ upToKg, price }) => ({ upTo: upToKg ?? null, price })),
        },
      ]),
    ),
    packSupplierOf: Object.fromEntries(
      plan.amendments.map((a) => [a.id, a.packs.map((pack) => pack.supplier ?? null)]),
    ),
    supplierOf: Object.fromEntries(
      plan.amendments.flatMap((a) => (a.supplier === undefined ? [] : [[a.id, a.supplier]])),
    ),
  };
}
