/**
 * Random plans made sure of their needs, against a model written a second time: single needs at the same least cost,
 * needs together against a dense search, names changed, dressings apart; then every shipped crop.
 */
import { performance } from "node:perf_hooks";
import { amountsOf, solveBlend } from "../../src/flow/solve-blend.ts";
import type { Plan, SureAsked } from "../../src/model.ts";
import type { Nutrient } from "../../src/nutrients.ts";
import { normalQuantile } from "../../src/solver/normal.ts";
import { weighed } from "../helpers/answers.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { type Random, seeded } from "../helpers/random.ts";
import { type Spec, toTree, widerSpec } from "../helpers/random-plan.ts";
import { LinearSeasons, type SureNeed, sureNeeds, sureReference } from "../helpers/reference-sure.ts";
import { shippedCrops, shippedPlan } from "../helpers/shipped-plans.ts";

/** Box and Muller. */
function normals(r: Random): () => number {
  return () => Math.sqrt(-2 * Math.log(1 - r.next())) * Math.cos(2 * Math.PI * r.next());
}

const neededOf = (plan: Plan): Nutrient[] =>
  plan.demands.filter(({ minKg }) => minKg > 0).map(({ nutrient }) => nutrient);

/** A random plan, most of them without the caps and limits that leave many plans no mix. */
export function specFor(seed: number, r: Random): Spec {
  const spec = widerSpec(seed);
  if (r.chance(0.3)) return spec;
  const demands = Object.entries(spec.demands).map(([n, d]) => [
    n,
    { ...d, max: null, aheadMax: null, appliedMax: r.chance(0.3) ? d.appliedMax : null },
  ]);
  const limits = Object.entries(spec.limits).filter(([, limit]) => limit.minShare === undefined);
  return { ...spec, demands: Object.fromEntries(demands), limits: Object.fromEntries(limits) };
}

/** The same plan with its amendments in another order of names. */
export function renamed(spec: Spec, r: Random): Spec {
  const ids = spec.amendments.map(({ id }) => id);
  const shuffled = [...ids].sort(() => r.next() - 0.5).map((id) => `z-${id}`);
  const to = new Map(ids.map((id, k) => [id, shuffled[k]!]));
  return {
    ...spec,
    amendments: spec.amendments.map((a) => ({ ...a, id: to.get(a.id)! })),
    limits: Object.fromEntries(Object.entries(spec.limits).map(([id, limit]) => [to.get(id)!, limit])),
  };
}

/** Weights by amendment of a spec. */
function kgOf(spec: Spec, plan: Plan, amounts: readonly (readonly number[])[]): (readonly number[])[] {
  return spec.amendments.map(({ id }) => {
    const a = plan.amendments.findIndex((one) => one.id === id);
    return a < 0 ? spec.applications.map(() => 0) : amounts[a]!;
  });
}

export type Outcome = "optimal" | "infeasible" | "none so sure";

export interface EachCase {
  readonly outcome: Outcome;
  /** What is wrong, in words; null where nothing is. */
  readonly wrong: string | null;
}

/** A random plan that is to be sure of single needs, at the levels that worked seasons ask, against the second model. */
export async function eachCase(seed: number): Promise<EachCase> {
  const r = seeded(seed ^ 0x51ed270b);
  const spec = specFor(seed, r);
  const bare = loadTree(toTree(spec, seed));
  const chosen = neededOf(bare).filter((n) => n === "N" || r.chance(0.5));
  const level = r.pick([0.6, 0.7, 0.8, 0.9, 0.95]);
  const each = chosen.map((nutrient) => ({ nutrient, p: r.chance(0.6) ? level : r.between(0.55, 0.97) }));
  const plan: Plan = { ...bare, sure: { each } };
  const { answer, sure, sureFault, program } = await solveBlend(plan);
  const needs = sureNeeds(
    spec,
    each.map(({ nutrient }) => nutrient),
  );
  const marginOf = (levels: ReadonlyMap<Nutrient, number>) => (need: SureNeed) =>
    normalQuantile(levels.get(need.nutrient as Nutrient) ?? 0.5);
  if (answer.status !== "optimal" || !sure) {
    if (!sureFault) return { outcome: "infeasible", wrong: null };
    // Where none is as sure by worked seasons alone, a little surer there is none by the law either.
    const all = new Map(
      each.map(({ nutrient, p }) => [nutrient, Math.min(0.9999, p + 0.05 * (1 - p) + 0.02)]),
    );
    const found = await sureReference(spec, needs, marginOf(all));
    return { outcome: "none so sure", wrong: found ? `the second model finds a mix at ${found.cost}` : null };
  }
  for (const { nutrient, p } of each)
    for (const need of sure.worked!.needs)
      if (need.nutrient === nutrient && need.met < p - 0.0025)
        return { outcome: "optimal", wrong: `${nutrient} in ${need.met}, asked ${p}` };
  const reference = await sureReference(spec, needs, marginOf(sure.levels));
  const cost = answer.check.cost;
  if (!reference) return { outcome: "optimal", wrong: `the second model finds no mix, ours costs ${cost}` };
  const off = Math.abs(cost - reference.cost) / Math.max(1, reference.cost);
  if (off > 2e-5) return { outcome: "optimal", wrong: `costs ${cost}, the second model ${reference.cost}` };
  const draws = new LinearSeasons(normals(seeded(seed)), 8000);
  const kg = kgOf(spec, plan, amountsOf(plan, program, answer.x));
  for (const { nutrient, p } of each)
    for (const need of needs)
      if (need.nutrient === nutrient && draws.met([need], kg) < p - 0.02)
        return {
          outcome: "optimal",
          wrong: `${nutrient} in ${draws.met([need], kg)} of drawn seasons, asked ${p}`,
        };
  return { outcome: "optimal", wrong: null };
}

export interface TogetherCase extends EachCase {
  /** How much dearer than the best of the dense search, as a share; null: not looked for. */
  readonly above: number | null;
  /** By how much another order of names changes the cost, as a share. */
  readonly renamed: number | null;
}

/** A random plan that is to meet all its needs together, by other names too, against a dense search for the cheapest. */
export async function togetherCase(seed: number, tries: number): Promise<TogetherCase> {
  const r = seeded(seed ^ 0x2c1b3c6d);
  const spec = specFor(seed, r);
  const p = r.pick([0.3, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95]);
  const bare = loadTree(toTree(spec, seed));
  const sure: SureAsked = { each: [], together: { nutrients: neededOf(bare), p } };
  const plan: Plan = { ...bare, sure };
  const solved = await solveBlend(plan);
  const { answer, program } = solved;
  const found = solved.sure;
  const none = { above: null, renamed: null };
  const again = renamed(spec, r);
  const other = await solveBlend({ ...loadTree(toTree(again, seed)), sure });
  if (answer.status !== "optimal" || !found) {
    const outcome = solved.sureFault ? "none so sure" : "infeasible";
    const wrong = other.answer.status === "optimal" ? "by other names there is a mix" : null;
    return { outcome, wrong, ...none };
  }
  if (other.answer.status !== "optimal")
    return { outcome: "optimal", wrong: "by other names there is no mix", ...none };
  const cost = answer.check.cost;
  const changed = Math.abs(other.answer.check.cost - cost) / Math.max(1e-9, cost);
  const short = found.worked!.together < p - 0.0025 ? `all in ${found.worked!.together}, asked ${p}` : null;
  const draws = new LinearSeasons(normals(seeded(seed)), 6000);
  const kg = kgOf(spec, plan, amountsOf(plan, program, answer.x));
  const needs = sureNeeds(spec, neededOf(plan));
  const reached = draws.met(needs, kg);
  const wrong =
    short ??
    (Math.abs(reached - found.worked!.together) > 0.06
      ? `drawn ${reached}, worked ${found.worked!.together}`
      : null);
  if (tries === 0) return { outcome: "optimal", wrong, above: null, renamed: changed };
  const best = await denseSearch(spec, needs, draws, reached, found.levels, tries, r);
  return {
    outcome: "optimal",
    wrong,
    above: best === null || best === 0 ? 0 : Math.max(0, cost / best - 1),
    renamed: changed,
  };
}

/** The cheapest mix that drawn seasons find as sure as some other: from one level for all, then by moving margins at random. */
async function denseSearch(
  spec: Spec,
  needs: readonly SureNeed[],
  draws: LinearSeasons,
  wanted: number,
  levels: ReadonlyMap<string, number>,
  tries: number,
  r: Random,
): Promise<number | null> {
  const nutrients = [...new Set(needs.map(({ nutrient }) => nutrient))];
  const cuts: Parameters<typeof sureReference>[3] = [];
  const at = async (z: readonly number[]): Promise<{ cost: number; met: number } | null> => {
    if (cuts.length > 400) cuts.splice(0, 200);
    const found = await sureReference(spec, needs, ({ nutrient }) => z[nutrients.indexOf(nutrient)]!, cuts);
    return found && { cost: found.cost, met: draws.met(needs, found.kg) };
  };
  let best: { z: number[]; cost: number } | null = null;
  const consider = async (z: number[]): Promise<boolean> => {
    const found = await at(z);
    if (!found || found.met < wanted - 5e-4 || (best && found.cost >= best.cost)) return false;
    best = { z, cost: found.cost };
    return true;
  };
  let [low, high] = [0, 3.5];
  for (let k = 0; k < 10; k++) {
    const level = (low + high) / 2;
    const found = await at(nutrients.map(() => level));
    if (found && found.met >= wanted) high = level;
    else low = level;
  }
  await consider(nutrients.map(() => high));
  await consider(nutrients.map((n) => Math.max(0, normalQuantile(levels.get(n) ?? 0.5))));
  let step = 0.6;
  for (let k = 0; k < tries; k++) {
    if (best === null) return null;
    const { z }: { z: number[] } = best;
    const moved = z.map((one) => Math.max(0, one + (r.chance(0.6) ? step * (r.next() - 0.5) * 2 : 0)));
    if (!(await consider(moved))) step = Math.max(0.02, step * 0.97);
  }
  return (best as { cost: number } | null)?.cost ?? null;
}

const quantile = (values: readonly number[], part: number): number =>
  [...values].sort((a, b) => a - b)[Math.min(values.length - 1, Math.floor(part * values.length))] ?? 0;
const share = (value: number): string => `${(100 * value).toFixed(3)} %`;

/** Every shipped crop at three shares of seasons, each blend; how long it takes beside the plain answer. */
export async function shippedCases(root: string, print: (line: string) => void): Promise<number> {
  let wrong = 0;
  let longest = 0;
  const times: number[] = [];
  const off: number[] = [];
  for (const crop of shippedCrops(root))
    for (const blend of ["one", "each"])
      for (const p of [0.5, 0.8, 0.9]) {
        const plan = shippedPlan(root, crop, { blend });
        const asked: Plan = { ...plan, sure: { each: [], together: { nutrients: neededOf(plan), p } } };
        await weighed(plan);
        let begun = performance.now();
        await weighed(plan);
        const plain = performance.now() - begun;
        begun = performance.now();
        try {
          const { sure, status } = await weighed(asked);
          const took = performance.now() - begun;
          longest = Math.max(longest, took);
          times.push(took / plain);
          const met = (sure?.together ?? 0) - p;
          off.push(met);
          if (status === "optimal" && met >= -0.0025 && met <= 0.01) continue;
          print(`${crop}, ${blend}, ${p}: ${status}, ${sure?.together}`);
        } catch (error) {
          print(`${crop}, ${blend}, ${p}: ${(error as Error).message}`);
        }
        wrong++;
      }
  print(
    `shipped crops: ${off.length} mixes, chance off by ${share(Math.min(...off))} to ${share(Math.max(...off))}; longest ${Math.round(longest)} ms; ${quantile(times, 0.5).toFixed(1)} x plain in the middle, ${quantile(times, 0.9).toFixed(1)} x for 9 of 10; ${wrong} wrong`,
  );
  return wrong;
}

/** Checks so many plans under `sure`, so many under `together`, from some seed on; and the shipped crops unless it is 0. */
export async function attackSure(
  root: string,
  print: (line: string) => void,
  single = 200,
  together = 100,
  tries = 150,
  first = 0,
  crops = 1,
): Promise<number> {
  let wrong = 0;
  const seen: Record<string, number> = {};
  for (let seed = first; seed < first + single; seed++) {
    const one = await eachCase(seed).catch(
      (error: Error): EachCase => ({ outcome: "infeasible", wrong: error.message }),
    );
    seen[one.outcome] = (seen[one.outcome] ?? 0) + 1;
    if (one.wrong === null) continue;
    wrong++;
    print(`sure, plan ${seed}: ${one.wrong}`);
  }
  print(`${single} plans under sure: ${JSON.stringify(seen)}`);
  const [above, changed]: [number[], number[]] = [[], []];
  for (let seed = 1000 + first; seed < 1000 + first + together; seed++) {
    const one = await togetherCase(seed, tries).catch(
      (error: Error): TogetherCase => ({
        outcome: "infeasible",
        wrong: error.message,
        above: null,
        renamed: null,
      }),
    );
    seen[`together ${one.outcome}`] = (seen[`together ${one.outcome}`] ?? 0) + 1;
    if (one.above !== null) above.push(one.above);
    if (one.renamed !== null) changed.push(one.renamed);
    if ((one.renamed ?? 0) > 0.001 || (one.above ?? 0) > 0.02)
      print(`together, plan ${seed}: above ${share(one.above ?? 0)}, renamed ${share(one.renamed ?? 0)}`);
    if (one.wrong === null && (one.renamed ?? 0) <= 0.001) continue;
    wrong++;
    print(`together, plan ${seed}: ${one.wrong ?? "the cost changes with the names"}`);
  }
  print(
    `${together} plans under together: ${JSON.stringify(seen)}; above a dense search: ${share(quantile(above, 0.5))} in the middle, ${share(quantile(above, 0.9))} for 9 of 10, ${share(quantile(above, 1))} at worst; by other names: ${share(quantile(changed, 0.5))} in the middle, ${share(quantile(changed, 1))} at worst`,
  );
  if (crops > 0) wrong += await shippedCases(root, print);
  print(`${wrong} wrong`);
  return wrong === 0 ? 0 : 1;
}
