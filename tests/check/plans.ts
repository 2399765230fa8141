/**
 * Random plans by weight against a model written a second time and solved by HiGHS, of the kinds that have been hard:
 * amendments that are alike, five to eight dressings, shares of nearly all or nothing, needs that may not be exceeded,
 * beds from a pot to a farm, prices from a tenth of a cent to a thousand.
 *
 * HiGHS keeps rows within an absolute tolerance, so the second model is solved for the plan at one size. Everything in
 * it is in proportion: a bed so many times as large costs so many times as much.
 */

import { weighed as solvePlan } from "../helpers/answers.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { type Random, seeded } from "../helpers/random.ts";
import { type Spec, type SpecAmendment, type SpecLimit, toTree, widerSpec } from "../helpers/random-plan.ts";
import { referenceCost } from "../helpers/reference-model.ts";

/** A second amendment that is the first but for its name, and perhaps for a hair of its price or analysis. */
function likeness(amendment: SpecAmendment, k: number, r: Random): SpecAmendment {
  const hair = r.pick([0, 0, 1e-9, 1e-6, 1e-3]);
  const by = (): number => 1 + hair * (2 * r.next() - 1);
  return {
    ...amendment,
    id: `${amendment.id}-${k}`,
    analysis: Object.fromEntries(Object.entries(amendment.analysis).map(([n, v]) => [n, v * by()])),
    packs: amendment.packs.map(({ kg, price }) => ({ kg, price: price * by() })),
    stockKg: r.chance(0.2) ? r.between(1, 20) : 0,
  };
}

function hardLimit(limit: SpecLimit, r: Random): SpecLimit {
  const hair = 10 ** -r.whole(2, 13);
  if (limit.maxShare !== undefined && r.chance(0.5)) return { ...limit, maxShare: 1 - hair };
  if (limit.minShare !== undefined && r.chance(0.5)) return { ...limit, minShare: hair };
  return limit;
}

/** A plan of the kinds named above. */
function hardSpec(seed: number): Spec {
  const spec = widerSpec(seed);
  const r = seeded(seed ^ 0x7f4a7c15);
  const price = r.chance(0.2) ? 10 ** r.between(-2, 3) : 1;
  const amendments = spec.amendments.map((a) => ({
    ...a,
    packs: a.packs.map((pack) => ({ ...pack, price: pack.price * price })),
    bulkPerKg: a.bulkPerKg === null ? null : a.bulkPerKg * price,
  }));
  if (r.chance(0.5)) for (let k = 2; k <= r.whole(2, 5); k++) amendments.push(likeness(amendments[0]!, k, r));
  let { applications } = spec;
  if (r.chance(0.3)) {
    const count = r.whole(5, 8);
    const gap = Math.floor((spec.season - 10) / count);
    applications = Array.from({ length: count }, (_, k) => ({
      name: `round ${k + 1}`,
      day: k * gap,
      share: 1 / count,
    }));
  }
  const demands = Object.fromEntries(
    Object.entries(spec.demands).map(([n, d]) => [
      n,
      { ...d, max: d.max !== null && r.chance(0.2) ? d.min * (1 + 1e-9) : d.max },
    ]),
  );
  const names = new Set(applications.map(({ name }) => name));
  const limits = Object.fromEntries(
    Object.entries(spec.limits).map(([id, limit]) => [
      id,
      limit.notIn && !limit.notIn.every((name) => names.has(name)) ? {} : hardLimit(limit, r),
    ]),
  );
  return { ...spec, amendments, applications, demands, limits };
}

/** The same plan on a bed so many times as large. */
function scaledSpec(spec: Spec, times: number): Spec {
  const scaled = (kg: number | null): number | null => (kg === null ? null : kg * times);
  return {
    ...spec,
    areaM2: spec.areaM2 * times,
    amendments: spec.amendments.map((a) => ({ ...a, stockKg: a.stockKg * times })),
    demands: Object.fromEntries(
      Object.entries(spec.demands).map(([n, d]) => [
        n,
        {
          ...d,
          min: d.min * times,
          max: scaled(d.max),
          appliedMax: scaled(d.appliedMax),
          aheadMax: scaled(d.aheadMax),
        },
      ]),
    ),
    credits: spec.credits.map((credit) => ({
      ...credit,
      content: Object.fromEntries(Object.entries(credit.content).map(([n, kg]) => [n, kg * times])),
      ...(credit.greenManure
        ? { greenManure: { ...credit.greenManure, dryMatterKg: credit.greenManure.dryMatterKg * times } }
        : {}),
    })),
    limits: Object.fromEntries(
      Object.entries(spec.limits).map(([id, limit]) => [
        id,
        {
          ...limit,
          ...(limit.minKg === undefined ? {} : { minKg: limit.minKg * times }),
          ...(limit.maxKg === undefined ? {} : { maxKg: limit.maxKg * times }),
        },
      ]),
    ),
    batchKg: spec.batchKg * times,
    scaleKg: spec.scaleKg * times,
  };
}

interface PlanTally {
  plans: number;
  mixes: number;
  without: number;
  /** HiGHS came to no answer. */
  unjudged: number;
  wrong: string[];
  unproven: string[];
  worst: number;
}

/** Solves plans of seeds from `first` on, and compares. */
export async function tallyPlans(first: number, count: number): Promise<PlanTally> {
  const tally: PlanTally = { plans: 0, mixes: 0, without: 0, unjudged: 0, wrong: [], unproven: [], worst: 0 };
  for (let seed = first; seed < first + count; seed++) {
    const spec = hardSpec(seed);
    const times = seed % 3 === 0 ? 10 ** seeded(seed).between(-2, 3) : 1;
    tally.plans++;
    const solution = await solvePlan(loadTree(toTree(scaledSpec(spec, times), seed))).catch(String);
    if (typeof solution === "string") {
      tally.unproven.push(`plan ${seed} (times ${times}): ${solution}`);
      continue;
    }
    const expected = await referenceCost(spec).catch(() => undefined);
    if (expected === undefined) {
      tally.unjudged++;
      continue;
    }
    if (expected === null || solution.status === "infeasible") {
      if (expected === null && solution.status === "infeasible") tally.without++;
      else tally.wrong.push(`plan ${seed} (times ${times}): ${solution.status}, by HiGHS ${expected}`);
      continue;
    }
    tally.mixes++;
    const cost = solution.cost.total! / times;
    const off = Math.abs(cost - expected) / Math.max(expected, 1e-3);
    tally.worst = Math.max(tally.worst, off);
    if (!(off <= 1e-6)) tally.wrong.push(`plan ${seed} (times ${times}): ${cost}, by HiGHS ${expected}`);
  }
  return tally;
}

/** Checks so many plans; throws where one is wrong or unproven. */
export async function checkPlans(print: (line: string) => void, count = 2500, first = 1): Promise<void> {
  const { plans, mixes, without, unjudged, wrong, unproven, worst } = await tallyPlans(first, count);
  print(
    `plans: ${plans}; with a mix ${mixes}, without ${without}, left open by HiGHS ${unjudged}; cost off by ${worst.toExponential(1)} at most`,
  );
  for (const line of [...wrong, ...unproven]) print(line);
  print(`wrong: ${wrong.length}; not proven (exit 4): ${unproven.length}`);
  if (wrong.length + unproven.length > 0) throw new Error("a plan is wrong, or not proven");
}
