/**
 * Many farms against what is written apart from the project: one mix by weight against a search over shares and rates, two
 * and three mixes against all divisions, whole bags against a whole-number program for HiGHS at the same division, and the bound that is told of two mixes in bags
 * against all divisions.
 */
import type { Rung } from "../../src/flow/farm.ts";
import { divisions, enumerated, faultsOf, searchOf, solvedFarm } from "../helpers/check-farm.ts";
import { randomFarm } from "../helpers/random-farm.ts";
import { packsTotal, searchedCost } from "../helpers/reference-farm.ts";

/** Looks at so many farms; returns 1 where one is wrong. */
export async function checkFarms(print: (line: string) => void, count = 30): Promise<number> {
  const wrong: string[] = [];
  const worst = { better: 0, behind: 0, divided: 0, bags: 0 };
  let none = 0;
  let compared = 0;
  for (let seed = 1; compared + none < count && seed <= 3 * count; seed++) {
    const spec = randomFarm(seed, { beds: 4 + (seed % 6), stocked: false });
    const solved = await solvedFarm(spec);
    if (solved.without) continue;
    const one = await searchOf(solved, "weight").rung(1);
    const searched = await searchedCost(spec, seed, 4);
    if (!("purchase" in one)) {
      none++;
      if (searched !== null) wrong.push(`farm ${seed}: one mix was found by search alone`);
    } else {
      if (searched !== null) {
        compared++;
        worst.better = Math.max(worst.better, one.purchase.cost / searched - 1);
        worst.behind = Math.max(worst.behind, 1 - one.purchase.cost / searched);
      }
      for (const fault of faultsOf(spec, one.purchase)) wrong.push(`farm ${seed}: ${fault}`);
    }
    const search = searchOf(solved, "weight");
    for (const most of [2, 3]) {
      const rung = await search.rung(most);
      const best = enumerated(solved, most);
      if (!("purchase" in rung)) {
        if (best < Infinity) wrong.push(`farm ${seed}: ${most} mixes were not found`);
        continue;
      }
      worst.divided = Math.max(worst.divided, Math.abs(rung.purchase.cost / best - 1));
      for (const fault of faultsOf(spec, rung.purchase)) wrong.push(`farm ${seed}, ${most} mixes: ${fault}`);
    }
  }
  for (let seed = 1; seed <= Math.ceil(count / 5); seed++) {
    const spec = randomFarm(seed + 800, { beds: 4, materials: 6, stocked: true });
    const solved = await solvedFarm(spec);
    if (solved.without) continue;
    const rung = await searchOf(solved, "purchase").rung(2);
    const totals: number[] = [];
    for (const groups of divisions(4, 2)) totals.push((await packsTotal(spec, groups)) ?? Infinity);
    const least = Math.min(...totals);
    if ("purchase" in rung ? rung.bound > least * (1 + 1e-6) : least < Infinity)
      wrong.push(`farm ${seed}: a division costs ${least}, less than what is told of two mixes`);
  }
  let bags = 0;
  for (let seed = 1; bags < Math.ceil((2 * count) / 3) && seed < 3 * count; seed++) {
    const spec = randomFarm(seed + 500, { beds: 4 + (seed % 4), materials: 6 + (seed % 3), stocked: true });
    const solved = await solvedFarm(spec);
    if (solved.without) continue;
    const search = searchOf(solved, "purchase");
    let before: Rung | null = null;
    for (let most = 1; most <= Math.min(3, search.kinds.length); most++) {
      const rung = await search.rung(most);
      if (!("purchase" in rung)) continue;
      if (before && rung.purchase.cost > before.purchase.cost + 1e-9)
        wrong.push(`farm ${seed}: ${most} mixes cost more than fewer`);
      for (const fault of faultsOf(spec, rung.purchase)) wrong.push(`farm ${seed} in bags: ${fault}`);
      if (before?.purchase !== rung.purchase && rung.purchase.proven && most <= 2) {
        const other = await packsTotal(spec, rung.groups);
        worst.bags = Math.max(worst.bags, Math.abs(rung.purchase.cost / other! - 1));
      }
      before = rung;
    }
    if (before) bags++;
  }
  print(
    `${compared} farms with one mix: dearer than a search by ${worst.better.toExponential(1)} at most, cheaper by`,
  );
  print(
    `  ${worst.behind.toExponential(1)}; ${none} without one. Divisions off by ${worst.divided.toExponential(1)},`,
  );
  print(`  whole bags of ${bags} farms by ${worst.bags.toExponential(1)}.`);
  if (worst.better > 1e-6) wrong.push("a search found a cheaper mix");
  if (worst.behind > 1e-5) wrong.push("a search did not come as far");
  if (worst.divided > 1e-6) wrong.push("a better division was found by enumeration");
  if (worst.bags > 1e-6) wrong.push("whole bags cost something else by HiGHS");
  for (const line of wrong.slice(0, 20)) print(`WRONG ${line}`);
  return wrong.length > 0 ? 1 : 0;
}
