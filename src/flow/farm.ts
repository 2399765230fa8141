/**
 * A whole farm: beds solved each by itself, divided among so many mixes by weight, and one purchase for the groups found,
 * checked bed by bed.
 */
import { type Amounts, findMisses, sumKg } from "../field/delivery.ts";
import { goodsOf } from "../field/purchase.ts";
import type { Amendment, Supplier } from "../model.ts";
import { soldByWeight } from "../program/build.ts";
import type { Lone } from "../program/lone.ts";
import type { ShopDemands } from "../program/shop-program.ts";
import { type Entry, other, rowOf, termsOf } from "../solver/program.ts";
import {
  MAX_GAP,
  MAX_VIOLATION,
  UnverifiedError,
  unlessUnverified,
  worstViolation,
} from "../solver/verify.ts";
import { solveWhole } from "../solver/whole.ts";
import { LoneSearch } from "./farm-alone.ts";
import type { FarmBed, FarmBeds } from "./farm-beds.ts";
import { type Partition, type PartitionAnswer, Partitioner } from "./farm-partition.ts";
import { buyForGroups, type FarmErrand, type FarmPurchase } from "./farm-purchase.ts";
import { type Kind, kindsOf, MixValues } from "./farm-value.ts";
import { Deadline, type Errand, prepare } from "./purchase.ts";

export interface FarmAsked {
  readonly by: "purchase" | "weight";
  /** Absent: one mix for each bed. */
  readonly most?: number;
  /** Whether each bed may get one material alone beside its mix. */
  readonly alone?: boolean;
  /** By bed: the letter of the mix that it is to get. */
  readonly pins: readonly (string | undefined)[];
  readonly amendments: readonly Amendment[];
  readonly suppliers: readonly Supplier[];
  readonly demands: ShopDemands;
  /** Seconds for each search, by a clock handed in (milliseconds, rising). */
  readonly seconds: number;
  readonly clock: () => number;
}

/** What so many mixes cost. */
export interface Rung {
  /** Null: one for each bed. */
  readonly mixes: number | null;
  readonly groups: Partition;
  readonly purchase: FarmPurchase;
  /** No purchase with so many mixes costs less. */
  readonly bound: number;
}

/** Why there is no answer: beds that no mix can feed together. */
export interface NoMixForAll {
  /** A smallest set of beds found that cannot share. */
  readonly apart: readonly number[];
  /** So many mixes can feed all; null where not even one for each bed was found. */
  readonly fewest: number | null;
}

/** Why no purchase is made: no mix for all, or none that keeps what is asked of money and of what is left. */
export type FarmNone = NoMixForAll | { readonly nothing: "infeasible" | "time" };

/** More mixes than this, but for one for each bed, are not worked out unasked. */
export const LADDER = 3;
/** Totals nearer than this, in the currency, are the same. */
const SAME_TOTAL = 0.001;
/** Divisions with something alone that are bought for, the cheapest by weight first. */
const MOST_BESIDE = 3;
/** Of the time for a search, how long the divisions with something alone may be bettered. */
const BESIDE_SHARE = 0.1;
/** The share of the time that a division by weight may take where nothing is worked out after it. */
const MOST_OF_TIME = 0.85;

/** A farm with its beds solved each by itself, ready to be asked. */
export class FarmSearch {
  readonly kinds: readonly Kind[];
  private readonly partitioner: Partitioner;
  private readonly known = new Map<number, Rung | FarmNone>();
  private beside: Awaited<ReturnType<FarmSearch["lookBeside"]>> | undefined;
  private boundBeside: number | undefined;

  constructor(
    readonly farm: FarmBeds,
    private readonly asked: FarmAsked,
  ) {
    const asks = farm.beds.map((bed) => bed.asks);
    this.kinds = kindsOf(asks, (b) => asked.pins[b] ?? "");
    this.partitioner = this.at(farm.prices);
  }

  private at(prices: readonly number[]): Partitioner {
    const kinds = this.kinds.map(({ bed }) => bed);
    return new Partitioner(new MixValues(kinds, prices));
  }

  /** What the beds cost by weight, each with its own mix and the whole shed: no purchase has goods for less. */
  get ownCost(): number {
    return this.farm.beds.reduce((sum, { solved }) => sum + solved.answer.check.cost, 0);
  }

  /** So many mixes as were asked for, or one for each bed. */
  get most(): number {
    return Math.min(this.asked.most ?? Infinity, this.kinds.length);
  }

  private pinned(): Partition {
    const byLetter = new Map<string, number[]>();
    this.kinds.forEach(({ members }, k) => {
      const pin = this.asked.pins[members[0]!];
      if (pin !== undefined) byLetter.set(pin, [...(byLetter.get(pin) ?? []), k]);
    });
    return [...byLetter].sort(([a], [b]) => (a < b ? -1 : 1)).map(([, kinds]) => kinds);
  }

  /** So many mixes are pinned, or one. */
  get fewest(): number {
    return Math.max(1, this.pinned().length);
  }

  /**
   * What so many mixes cost at most; each number is worked out once, and a few mixes after one less. Fewer mixes are taken where
   * they cost the same.
   */
  async rung(most: number): Promise<Rung | FarmNone> {
    const known = this.known.get(most);
    if (known) return known;
    if (most > this.fewest && most <= LADDER) await this.rung(most - 1);
    let found = await this.search(most);
    if (this.asked.alone) found = await this.withAlone(most, found);
    const fewer = [...this.known].filter(([mixes]) => mixes < most).sort(([a], [b]) => b - a);
    for (const [, rung] of fewer) {
      if (!("purchase" in rung)) continue;
      const { cost } = rung.purchase;
      if (!("purchase" in found)) found = rung;
      else if (cost < found.purchase.cost + SAME_TOTAL)
        found = { ...rung, bound: Math.min(cost, found.bound) };
    }
    this.known.set(most, found);
    return found;
  }

  private async search(most: number): Promise<Rung | FarmNone> {
    const pinned = this.pinned();
    const free = this.unpinned();
    // As many mixes as there are kinds of bed: no division is looked for.
    const each = most >= pinned.length + free.length;
    const division = each ? null : this.divided(this.partitioner, most);
    if (division?.groups === null) return division.bound === Infinity ? this.noMix() : { nothing: "time" };
    const first = await this.bought(division?.groups ?? [...pinned, ...free]);
    // Groups of one division are proven by themselves.
    if (!("purchase" in first) || division === null || most === 1)
      return "purchase" in first ? { ...first, mixes: each ? null : most } : first;
    const { rung, least } = await this.boundOf(most, division, first);
    const { cost } = rung.purchase;
    return { ...rung, mixes: most, bound: Math.min(cost, Math.max(this.ownCost, least)) };
  }

  /** The same with one material alone beside each mix, where the search for it finds what costs less. */
  private async withAlone(most: number, plain: Rung | FarmNone): Promise<Rung | FarmNone> {
    const { seconds, clock } = this.asked;
    this.beside ??= await this.lookBeside();
    const { search, least } = this.beside;
    const kindOf = (b: number): number => this.kinds.findIndex(({ members }) => members.includes(b));
    const known = "purchase" in plain ? [plain.groups.map((group) => [...new Set(group.map(kindOf))])] : [];
    const part = new Deadline(BESIDE_SHARE * seconds, clock);
    let best = plain;
    for (const division of search.best(most, known, () => part.isPast()).slice(0, MOST_BESIDE)) {
      const { beds, lone } = search.bedsOf(division);
      const one = await unlessUnverified(this.bought(division.groups, this.asked.by, { beds, lone, least }));
      if (!one || !("purchase" in one)) continue;
      if (!("purchase" in best) || one.purchase.cost < best.purchase.cost)
        best = { ...one, mixes: most >= this.kinds.length ? null : most };
    }
    if (!("purchase" in best)) return best;
    const { cost } = best.purchase;
    this.boundBeside ??= await this.leastBeside(cost);
    return { ...best, bound: Math.min(cost, this.boundBeside) };
  }

  /** The search for what beds get alone, all that any of them could do, and what that costs by weight at least. */
  private async lookBeside() {
    const { amendments } = this.asked;
    const search = new LoneSearch(this.kinds, this.farm, amendments, this.pinned());
    const bounds = await search.bounds(amendments);
    const least = bounds.reduce((sum, one) => sum + one.least, 0);
    return { search, beds: bounds.map(({ bed }) => bed), least };
  }

  /** What any purchase up to some money costs at least, whatever beds share and get alone. */
  private async leastBeside(within: number): Promise<number> {
    const { beds, least } = this.beside!;
    if (this.asked.by === "weight") return least;
    const market = this.market();
    const plans = beds.map(({ plan }) => plan);
    const { program } = prepare({ ...market, plans, beds }, Infinity, within * (1 + MAX_GAP));
    const { clock, seconds } = this.asked;
    const whole = await solveWhole(program, { clock, seconds: seconds / 2, alone: true });
    return Math.max(least, whole.status === "infeasible" ? within : whole.bound);
  }

  /** The same with the simplest of the mixes of that total. */
  async settled({ groups, ...rung }: Rung): Promise<Rung> {
    if (rung.purchase.lone) return { groups, ...rung };
    const { beds, prices } = this.farm;
    const market = this.market();
    const purchase = await buyForGroups({ ...market, beds, groups, prices }, true);
    if (!("mixes" in purchase) || purchase.cost > rung.purchase.cost + 1e-9) return { groups, ...rung };
    checkFarm(beds, purchase, market.amendments, this.ownCost);
    return { ...rung, groups, purchase };
  }

  private divided(partitioner: Partitioner, most: number): PartitionAnswer {
    const { by, amendments, seconds, clock } = this.asked;
    // By weight with an empty shed little is left to do after it.
    const isAll = by === "weight" && amendments.every(({ stockKg }) => stockKg === 0);
    const part = new Deadline((isAll ? MOST_OF_TIME : 0.5) * seconds, clock);
    return partitioner.solve({ most, pinned: this.pinned(), stop: () => part.isPast() });
  }

  /** What is on sale, and where. */
  private market(by = this.asked.by): Pick<Errand, "amendments" | "suppliers" | "demands" | "deadline"> {
    const { amendments, suppliers, demands, seconds, clock } = this.asked;
    const deadline = new Deadline(seconds, clock);
    if (by === "purchase") return { amendments, suppliers, demands, deadline };
    return { amendments: amendments.map(soldByWeight), suppliers: [], demands, deadline };
  }

  /**
   * The purchase for kinds of bed in groups, checked.
   * @param beside the beds as they ask beside what they get alone, and the least that any such plan costs.
   */
  private async bought(
    kinds: Partition,
    by = this.asked.by,
    beside?: Beside,
  ): Promise<Omit<Rung, "mixes"> | FarmNone> {
    const groups = kinds
      .map((group) => group.flatMap((k) => this.kinds[k]!.members).sort((a, b) => a - b))
      .sort((a, b) => a[0]! - b[0]!);
    const { beds, prices } = this.farm;
    const market = this.market(by);
    const errand = { ...market, beds, groups, prices };
    const found = await buyForGroups(beside ? asksBeside(errand, beside) : errand);
    if (!("mixes" in found)) return { nothing: found.status === "infeasible" ? "infeasible" : "time" };
    const purchase = beside ? { ...found, lone: beside.lone } : found;
    checkFarm(beds, purchase, market.amendments, beside?.least ?? this.ownCost);
    return { groups, purchase, bound: purchase.bound };
  }

  /**
   * The least that so many mixes cost, whatever beds share. What is bought of a material is worth its price in the division
   * that was found, or what is in the shed is worth there: at these prices what is used is worth the bound of a division by
   * weight. Where the shed counts, the best division at these prices is tried too.
   */
  private async boundOf(most: number, division: PartitionAnswer, first: Omit<Rung, "mixes">) {
    const { amendments } = this.asked;
    let rung = first;
    let { bound } = division;
    let { prices } = this.farm;
    if (amendments.some(({ stockKg }) => stockKg > 0)) {
      const weighed = this.asked.by === "weight" ? first : await this.bought(division.groups!, "weight");
      const worth = "purchase" in weighed ? weighed.purchase.worth! : [];
      const least = Math.min(...prices);
      prices = prices.map((price, a) => Math.max(least, worth[a] ?? price));
      const again = this.divided(this.at(prices), most);
      bound = again.bound;
      const isOther = again.groups !== null && namesOf(again.groups) !== namesOf(division.groups!);
      const other = isOther ? await this.bought(again.groups) : null;
      if (other && "purchase" in other && other.purchase.cost < rung.purchase.cost) rung = other;
    }
    return { rung, least: await this.leastSpent(prices, bound, rung.purchase.cost) };
  }

  /**
   * What any purchase up to some money costs at least whose goods are worth so much. Every bed may have a mix of its own here,
   * which leaves nothing out that few mixes could do.
   */
  private async leastSpent(worth: readonly number[], asMuch: number, within: number): Promise<number> {
    const market = this.market();
    const beds = this.farm.beds.map(({ solved }) => solved);
    const plans = beds.map(({ plan }) => plan);
    const { program } = prepare({ ...market, plans, beds }, Infinity, within * (1 + MAX_GAP));
    const worthOf = new Map(market.amendments.map(({ id }, a) => [id, worth[a]!]));
    const uses = program.columns.flatMap(({ tag }, j): Entry[] =>
      tag.kind === "use" ? [[j, worthOf.get(tag.id)!]] : [],
    );
    const row = rowOf(other("worth of a division"), termsOf(uses), { lower: asMuch });
    const { clock, seconds } = this.asked;
    const least = await solveWhole(
      { ...program, rows: [...program.rows, row] },
      { clock, seconds, alone: true },
    );
    return least.status === "infeasible" ? within : least.bound;
  }

  private unpinned(): number[][] {
    return this.kinds.flatMap(({ members }, k) => (this.asked.pins[members[0]!] === undefined ? [[k]] : []));
  }

  /** A smallest set of beds that cannot share a mix, and the fewest mixes that can feed all. */
  private noMix(): NoMixForAll {
    const all = this.kinds.map((_, k) => k);
    const cannot = (set: readonly number[]): boolean => this.partitioner.value(set).bound === Infinity;
    let apart: readonly number[] = all;
    for (let size = 2; size <= 3 && apart === all; size++) apart = subsetsOf(all, size).find(cannot) ?? all;
    // Beyond three, one that cannot be made smaller by any one bed.
    for (const k of apart) {
      const less = apart.filter((one) => one !== k);
      if (less.length > 1 && cannot(less)) apart = less;
    }
    let fewest: number | null = null;
    const half = new Deadline(this.asked.seconds / 2, this.asked.clock);
    for (let most = Math.max(2, this.pinned().length); most <= all.length && fewest === null; most++)
      if (this.partitioner.solve({ most, pinned: this.pinned(), gap: 1, stop: () => half.isPast() }).groups)
        fewest = most;
    return { apart: apart.map((k) => this.kinds[k]!.members[0]!), fewest };
  }
}

/** Divisions into the same groups have the same. */
const namesOf = (groups: Partition): string =>
  groups
    .map((group) => [...group].sort((a, b) => a - b).join())
    .sort()
    .join(" ");

function subsetsOf(all: readonly number[], size: number): readonly (readonly number[])[] {
  if (size === 0) return [[]];
  return all.flatMap((first, i) => subsetsOf(all.slice(i + 1), size - 1).map((rest) => [first, ...rest]));
}

/** Beds that get something alone: what they ask of a mix beside it, what they get, and the least that any such plan costs. */
interface Beside {
  readonly beds: readonly FarmBed[];
  readonly lone: readonly (Lone | null)[];
  readonly least: number;
}

/** What is bought for where some of it is given alone: that much is needed beside the mixes, and counts as weight. */
function asksBeside(errand: FarmErrand, { beds, lone }: Beside): FarmErrand {
  const { amendments, demands } = errand;
  const fixedKg = amendments.map((_, a) =>
    sumKg(lone.flatMap((one) => (one?.amendment === a ? one.kg : []))),
  );
  const heap = demands.heap?.map(({ id, minKg = 0, maxKg = Infinity }) => {
    const kg = fixedKg[amendments.findIndex((one) => one.id === id)] ?? 0;
    return { id, minKg: Math.max(0, minKg - kg), maxKg: maxKg - kg };
  });
  return { ...errand, beds, demands: { ...demands, fixedKg, ...(heap ? { heap } : {}) } };
}

/** kg of each amendment of the farm that a bed gets of its mix in all. */
export function bedKg({ mixes, bought }: FarmPurchase, b: number): readonly number[] {
  const mix = mixes.find(({ beds }) => beds.includes(b));
  if (!mix) return bought.counts.map(() => 0);
  const share = mix.shares[mix.beds.indexOf(b)]!;
  return mix.heapKg.map((kg) => kg * share);
}

/** kg by amendment of a bed's plan and round: in all, and what of it is alone; absent: nothing is. */
export function bedAmounts(
  { solved: { plan } }: FarmBed,
  purchase: FarmPurchase,
  b: number,
  amendments: readonly Amendment[],
): { readonly amounts: Amounts; readonly alone?: Amounts } {
  const kg = bedKg(purchase, b);
  const at = new Map(amendments.map(({ id }, a) => [id, kg[a]!]));
  const stirred = plan.amendments.map(({ id }) => plan.applications.map(({ share }) => at.get(id)! * share));
  const lone = purchase.lone?.[b];
  if (!lone) return { amounts: stirred };
  const { id } = amendments[lone.amendment]!;
  const alone = plan.amendments.map((one) =>
    plan.applications.map((_, t) => (one.id === id ? lone.kg[t]! : 0)),
  );
  return { amounts: stirred.map((row, a) => row.map((one, t) => one + alone[a]![t]!)), alone };
}

/** Slack for money that was added up in another order. */
const MONEY_ROUNDING = 1e-6;

/**
 * Works a farm's answer out again from amounts alone: every bed is fed within its own rows, nothing is used beyond what
 * there is, and the goods cost no less than what each bed does by itself.
 * @param amendments as they were on sale.
 * @throws UnverifiedError where one of these does not hold.
 */
export function checkFarm(
  beds: readonly FarmBed[],
  purchase: FarmPurchase,
  amendments: readonly Amendment[],
  ownCost: number,
): void {
  const used = amendments.map(() => 0);
  beds.forEach((bed, b) => {
    const { amounts } = bedAmounts(bed, purchase, b, amendments);
    bed.solved.plan.amendments.forEach(({ id }, i) => {
      used[amendments.findIndex((one) => one.id === id)]! += sumKg(amounts[i]!);
    });
    const miss = bedMiss(bed, purchase, b, amendments);
    if (!(miss <= MAX_VIOLATION))
      throw new UnverifiedError(`${bed.solved.plan.name} is not fed as asked; no mix is printed.`);
  });
  const { bought } = purchase;
  let goods = 0;
  amendments.forEach((amendment, a) => {
    goods += goodsOf(amendment, bought.counts[a]!, bought.bulkKg[a]!);
    const had =
      amendment.stockKg +
      bought.bulkKg[a]! +
      bought.counts[a]!.reduce((sum, count, k) => sum + count * amendment.packs[k]!.sizeKg, 0);
    if (used[a]! > had * (1 + MAX_VIOLATION))
      throw new UnverifiedError(`More ${amendment.name} is used than there is; no mix is printed.`);
  });
  if (goods < ownCost * (1 - MONEY_ROUNDING))
    throw new UnverifiedError("The purchase costs less than what the beds need; no mix is printed.");
}

/**
 * The worst miss of a bed's own rows and margins at what it gets, relative to their size; where some of it is alone, of the
 * demands of its plan.
 */
export function bedMiss(
  bed: FarmBed,
  purchase: FarmPurchase,
  b: number,
  amendments: readonly Amendment[],
): number {
  const { solved, base, sure } = bed;
  const { amounts, alone } = bedAmounts(bed, purchase, b, amendments);
  if (alone) return findMisses(solved.plan, solved.season, amounts, alone)[0]?.fraction ?? 0;
  const kg = bedKg(purchase, b);
  const x = base.columns.map(() => 0);
  const place = new Map(amendments.map(({ id }, a) => [id, a]));
  solved.plan.amendments.forEach(({ id }, a) => {
    x[base.use[a]![0]!] = kg[place.get(id)!]!;
  });
  const rows = base.rows.filter(({ tag }) => tag.kind !== "stock");
  const plain = worstViolation({ columns: base.columns, rows }, x).amount;
  return sure.reduce((worst, margin) => {
    const row = base.rows[margin.row]!;
    const mean = row.index.reduce((sum, j, k) => sum + row.value[k]! * x[j]!, 0);
    const spread = Math.hypot(
      ...margin.factors.map(({ index, value, constant }) =>
        index.reduce((sum, j, k) => sum + value[k]! * x[j]!, constant),
      ),
    );
    return Math.max(worst, (row.lower - (mean - margin.z * spread)) / Math.max(Math.abs(row.lower), mean));
  }, plain);
}
