/** The answer for beds that share mixes: who shares, one purchase, as sure as each bed asks, and what other numbers cost. */
import type { Amounts } from "../field/delivery.ts";
import { SeasonWork } from "../field/sureness.ts";
import { type Notice, noticesOf } from "../problem.ts";
import { soldByWeight } from "../program/build.ts";
import type { By, Conflict, MixCount, Sharing } from "../results/solution.ts";
import { MAX_GAP } from "../solver/verify.ts";
import { listed, money, percent } from "../words/numbers.ts";
import {
  bedAmounts,
  bedMiss,
  type FarmNone,
  FarmSearch,
  LADDER,
  type NoMixForAll,
  type Rung,
} from "./farm.ts";
import { type FarmBeds, farmBeds, withLevels } from "./farm-beds.ts";
import type { FarmPurchase } from "./farm-purchase.ts";
import { letterOf } from "./lay-out.ts";
import type { Errand } from "./purchase.ts";
import { TIE_OPEN } from "./purchase-mix.ts";
import { AIM_MOST, workAsked } from "./sure.ts";
import { CHECK_SLACK, MOST_RAISES } from "./sure-aims.ts";

export interface ShareOptions {
  readonly by: By;
  /** For each search. */
  readonly seconds: number;
  readonly clock: () => number;
  /** Whether other numbers of mixes are worked out too. */
  readonly ladder: boolean;
}

/** Mixes that beds share, and their purchase. */
export interface SharedMixes {
  readonly purchase: FarmPurchase;
  readonly cost: number;
  /** No purchase with so many mixes costs less. */
  readonly bound: number;
  /** By bed of the errand: kg by amendment of its plan and application. */
  readonly mixes: readonly Amounts[];
  /** By bed of the errand: what of it is alone; undefined where nothing is. */
  readonly alone?: readonly (Amounts | undefined)[];
  /** Each mix with the beds of the errand that it is for. */
  readonly groups: readonly { readonly name: string; readonly beds: readonly number[] }[];
  readonly byMixes: readonly MixCount[];
  /** The worst miss of any bed's rows. */
  readonly miss: number;
  readonly warnings: readonly Notice[];
}

/** Shares mixes among the beds of an errand. */
export async function shareMixes(
  errand: Errand,
  sharing: Sharing,
  options: ShareOptions,
): Promise<SharedMixes | FarmNone> {
  let farm = farmBeds(errand.beds, errand.amendments);
  if (farm.beds.length === 0) return allFed(errand);
  // Beds that credits feed take no mix, and have no place in the search.
  const place = farm.beds.map(({ solved }) => errand.beds.indexOf(solved));
  const pins = place.map((p) => sharing.pins?.[p] ?? undefined);
  for (let raises = 0; ; raises++) {
    const search = new FarmSearch(farm, {
      by: options.by,
      pins,
      amendments: errand.amendments,
      suppliers: errand.suppliers,
      demands: { ...errand.demands, ...(sharing.heap ? { heap: sharing.heap } : {}) },
      seconds: options.seconds,
      clock: options.clock,
      ...(sharing.mostMixes === undefined ? {} : { most: sharing.mostMixes }),
      ...(sharing.alone ? { alone: true } : {}),
    });
    const rung = await search.rung(search.most);
    if (!("purchase" in rung))
      return "apart" in rung ? { ...rung, apart: rung.apart.map((b) => place[b]!) } : rung;
    const surer = raises < MOST_RAISES ? raised(farm, rung, errand) : null;
    if (surer) {
      farm = surer;
      continue;
    }
    return laidOut(errand, farm, place, pins, search, rung, options);
  }
}

/** Nothing is spread and nothing bought. */
function allFed({ beds, amendments }: Errand): SharedMixes {
  return {
    purchase: {
      mixes: [],
      bought: { counts: amendments.map(({ packs }) => packs.map(() => 0)), bulkKg: amendments.map(() => 0) },
      cost: 0,
      bound: 0,
      proven: true,
      claimed: false,
    },
    cost: 0,
    bound: 0,
    mixes: beds.map(({ plan }) => plan.amendments.map(() => plan.applications.map(() => 0))),
    groups: [],
    byMixes: [],
    miss: 0,
    warnings: [],
  };
}

/** The same farm with more asked where worked seasons find a bed less sure than it asks; null where all are. */
function raised(farm: FarmBeds, rung: Rung, errand: Errand): FarmBeds | null {
  let short = false;
  const beds = farm.beds.map((bed, b) => {
    const { plan } = bed.solved;
    const asked = plan.sure?.each.filter(({ p }) => p > 0.5) ?? [];
    const all = plan.sure?.together;
    if (asked.length === 0 && !all) return bed;
    const { amounts } = bedAmounts(bed, rung.purchase, b, errand.amendments);
    const worked = workAsked(SeasonWork.after(plan), amounts);
    const levels = new Map(bed.levels);
    for (const { nutrient, p } of asked) {
      const met = Math.min(
        ...worked.needs.filter((need) => need.nutrient === nutrient).map((need) => need.met),
      );
      if (!(met < p - CHECK_SLACK)) continue;
      short = true;
      levels.set(nutrient, Math.min(AIM_MOST, (levels.get(nutrient) ?? p) + p - met));
    }
    if (all && worked.together < all.p - CHECK_SLACK) {
      short = true;
      // What a bed has plenty of in a mix of its own it may lack in one that is shared: each need fails so much less often.
      const less = (1 - all.p) / (1 - worked.together);
      for (const nutrient of all.nutrients) {
        const level = Math.max(0.5, levels.get(nutrient) ?? 0);
        levels.set(nutrient, Math.min(AIM_MOST, 1 - (1 - level) * less));
      }
    }
    return withLevels(bed, errand.amendments, levels);
  });
  return short ? { ...farm, beds } : null;
}

async function laidOut(
  errand: Errand,
  farm: FarmBeds,
  place: readonly number[],
  pins: readonly (string | undefined)[],
  search: FarmSearch,
  rung: Rung,
  options: ShareOptions,
): Promise<SharedMixes> {
  const byMixes = options.ladder ? await ladderOf(search) : [];
  const { purchase, bound } = await search.settled(rung);
  const given = errand.beds.map(({ plan }, p): ReturnType<typeof bedAmounts> => {
    const b = place.indexOf(p);
    return b < 0
      ? { amounts: plan.amendments.map(() => plan.applications.map(() => 0)) }
      : bedAmounts(farm.beds[b]!, purchase, b, errand.amendments);
  });
  const sold = options.by === "weight" ? errand.amendments.map(soldByWeight) : errand.amendments;
  const miss = farm.beds.reduce((worst, bed, b) => Math.max(worst, bedMiss(bed, purchase, b, sold)), 0);
  return {
    purchase,
    cost: purchase.cost,
    bound,
    mixes: given.map(({ amounts }) => amounts),
    alone: given.map(({ alone }) => alone),
    groups: lettered(purchase, pins).map(({ name, beds }) => ({ name, beds: beds.map((b) => place[b]!) })),
    byMixes,
    miss,
    warnings: warningsOf({ ...rung, purchase, bound }, errand),
  };
}

/** The mixes in the order of the beds that first use them; a pinned one keeps its letter. */
function lettered({ mixes }: FarmPurchase, pins: readonly (string | undefined)[]) {
  const pinned = new Set(pins);
  let next = 0;
  return [...mixes]
    .sort((a, b) => a.beds[0]! - b.beds[0]!)
    .map(({ beds }) => {
      let name = beds.map((b) => pins[b]).find((pin) => pin !== undefined);
      while (name === undefined) {
        const letter = letterOf(next++);
        if (!pinned.has(letter)) name = letter;
      }
      return { name, beds };
    })
    .sort((a, b) => a.name.length - b.name.length || (a.name < b.name ? -1 : 1));
}

/** What other numbers of mixes cost, and one for each bed. */
async function ladderOf(search: FarmSearch): Promise<MixCount[]> {
  const each = search.kinds.length;
  const counts = [...new Set([1, 2, LADDER, search.most, each])].filter(
    (most) => most >= search.fewest && most <= each,
  );
  const rungs: MixCount[] = [];
  for (const most of counts.sort((a, b) => a - b)) {
    const one = await search.rung(most);
    const mixes = most === each ? null : most;
    if (!("purchase" in one)) rungs.push({ mixes, total: null, bound: null, gap: null });
    else {
      const { cost } = one.purchase;
      const gap = Math.max(0, cost - one.bound) / Math.max(1, cost);
      rungs.push({ mixes, total: cost, bound: one.bound, gap });
    }
  }
  return rungs;
}

function warningsOf(rung: Rung, { plans }: Errand): Notice[] {
  const { purchase, bound } = rung;
  const gap = (purchase.cost - bound) / Math.max(1, purchase.cost);
  const divided = rung.mixes !== null && rung.mixes > 1;
  return noticesOf({
    "purchase-time":
      !purchase.proven &&
      `The time limit came before the proof: for these mixes another purchase could cost up to ${percent((purchase.cost - purchase.bound) / Math.max(1, purchase.cost))} less. Allow more with --time-limit.`,
    "tie-open": purchase.settled === false && TIE_OPEN,
    "purchase-claimed":
      purchase.proven &&
      purchase.claimed &&
      "The solver HiGHS says that no other purchase for these mixes costs less; this was not proven again here.",
    "alone-found":
      purchase.lone !== undefined &&
      gap > MAX_GAP &&
      `What each bed gets straight from its bag was found by trying; no plan costs below ${money(bound, plans[0]!.currency)}.`,
    "mixes-divided":
      divided &&
      !purchase.lone &&
      purchase.proven &&
      gap > MAX_GAP &&
      `Which beds share was decided by weight; for these mixes the purchase is the cheapest. Whatever ${rung.mixes} mixes are stirred, they cost ${money(bound, plans[0]!.currency)} at least.`,
  });
}

/** Why one number of mixes does not feed all beds. */
export function noMixConflict(
  plans: readonly { readonly name: string }[],
  { apart, fewest }: NoMixForAll,
): Conflict {
  const names = listed(apart.map((p) => plans[p]!.name));
  const reason = `No mix feeds ${names} together: what one of them needs goes beyond what another may get.`;
  const way = fewest === null ? "give one of them a mix of its own" : `allow ${fewest} mixes`;
  return {
    text: `${reason} ${way[0]!.toUpperCase()}${way.slice(1)}.`,
    reason,
    demands: apart.map((p) => plans[p]!.name),
  };
}
