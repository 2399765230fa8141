/** Random plans made sure of their nitrogen, against seasons drawn by a model written a second time. */
import { faultOf, sureCase } from "../helpers/sure-plans.ts";

/** How far a share of drawn seasons may be from what was asked. */
const SLACK = 0.025;

/** Checks `count` plans by `draws` seasons each and prints what was found; returns the exit code. */
export async function checkSure(
  count: number,
  draws: number,
  print: (line: string) => void,
): Promise<number> {
  const seen = { optimal: 0, infeasible: 0, "no mix that sure": 0 };
  const off: number[] = [];
  let wrong = 0;
  for (let seed = 0; seed < count; seed++) {
    const one = await sureCase(seed, draws);
    seen[one.status]++;
    if (one.met !== null && one.binds) off.push(Math.abs(one.met - one.asked));
    const fault = faultOf(one, SLACK);
    if (fault === null) continue;
    wrong++;
    print(`plan ${seed}: ${fault}`);
  }
  off.sort((a, b) => a - b);
  const worst = ((off.at(-1) ?? 0) * 100).toFixed(2);
  const median = ((off[off.length >> 1] ?? 0) * 100).toFixed(2);
  print(
    `${count} plans, ${draws} seasons each: ${seen.optimal} as sure as asked (the need binds in ${off.length}: off by ${median} points in the middle, ${worst} at worst), ${seen["no mix that sure"]} cannot be, ${seen.infeasible} have no mix; ${wrong} wrong`,
  );
  return wrong === 0 ? 0 : 1;
}
