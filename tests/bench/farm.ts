/** Farms of many beds that share one or two mixes: random ones, each answer worked out again from plain numbers first. */
import type { Rung } from "../../src/flow/farm.ts";
import { faultsOf, searchOf, solvedFarm } from "../helpers/check-farm.ts";
import { type FarmAsked, randomFarm } from "../helpers/random-farm.ts";
import { type Benchmark, check, type Figure, median, spent } from "./measure.ts";

const FARMS = 10;

interface Timed {
  readonly ms: number;
  /** Null where so many mixes do not feed all. */
  readonly rung: Rung | null;
  readonly gap: number;
}

/** So many mixes for random farms, with processor time for a clock. */
async function timed(
  asked: FarmAsked,
  by: "purchase" | "weight",
  most: number,
  seconds: number,
): Promise<Timed[]> {
  const found: Timed[] = [];
  for (let seed = 1; found.length < FARMS && seed < 4 * FARMS; seed++) {
    const spec = randomFarm(seed + 40, asked);
    const solved = await solvedFarm(spec);
    if (solved.without) continue;
    const begun = spent();
    const rung = await searchOf(solved, by, { seconds, clock: spent }).rung(most);
    const ms = spent() - begun;
    if (!("purchase" in rung)) {
      if (most === 1) continue;
      check("apart" in rung, `farm ${seed} has ${most} mixes within ${seconds} s, or says why not`);
      found.push({ ms, rung: null, gap: 0 });
      continue;
    }
    for (const fault of faultsOf(spec, rung.purchase)) check(false, `farm ${seed}: ${fault}`);
    const { cost } = rung.purchase;
    check(rung.bound <= cost + 1e-9, `farm ${seed}: the bound is below what it costs`);
    found.push({ ms, rung, gap: (cost - rung.bound) / Math.max(1, cost) });
  }
  return found;
}

const percent = (share: number): string => `${(100 * share).toFixed(2)} %`;

function figure(name: string, value: number, unit: string, most: number, all: readonly Timed[]): Figure {
  const times = all.map(({ ms }) => ms);
  const gaps = all.map(({ gap }) => gap);
  return {
    name,
    value,
    unit,
    goal: { at: "most", value: most },
    detail: `${all.length} farms: median ${median(times).toFixed(0)} ms, slowest ${Math.max(...times).toFixed(0)} ms; gap ${percent(median(gaps))}, at most ${percent(Math.max(...gaps))}`,
  };
}

/** The one of ten that is last but one. */
const nineOfTen = (values: readonly number[]): number => [...values].sort((a, b) => a - b).at(-2)!;

export const farm: Benchmark = {
  name: "farms",
  async run() {
    const one = await timed({ beds: 10, stocked: true }, "purchase", 1, 10);
    const proven = one.filter(({ rung }) => rung?.purchase.proven && !rung.purchase.claimed);
    check(proven.length === one.length, "one mix in whole bags is proven");
    const two = await timed({ beds: 10, stocked: true }, "purchase", 2, 5);
    const large = await timed({ beds: 40, materials: 15, crops: 20 }, "weight", 2, 10);
    const slowest = (all: readonly Timed[]): number => Math.max(...all.map(({ ms }) => ms));
    return [
      figure("one mix, 10 beds, in bags", slowest(one), "ms of processor time, proven", 2000, one),
      figure("two mixes, 10 beds, in bags", slowest(two), "ms of processor time", 5000, two),
      figure(
        "two mixes, 40 beds, weight",
        100 * nineOfTen(large.map(({ gap }) => gap)),
        "% gap, 9 farms of 10",
        0.1,
        large,
      ),
      figure(
        "the same",
        nineOfTen(large.map(({ ms }) => ms)),
        "ms of processor time, 9 farms of 10",
        10_000,
        large,
      ),
    ];
  },
};
