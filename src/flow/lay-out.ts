/** Mixes and a purchase, found in whatever way, laid out as the answer: everything here is recomputed from amounts alone. */

import { dateOfDay } from "../calendar.ts";
import { limingKg } from "../field/acidity.ts";
import { heapsOf, type LaidHeap, layOutHeap, litresOf, onScale, sumKnown } from "../field/batches.ts";
import { seasonCurves } from "../field/curves.ts";
import { type Amounts, deliver, findMisses, sumKg, totalsKg } from "../field/delivery.ts";
import { type Bought, boughtKg, linesOf, moneyOf, ordersOf, usedKg } from "../field/purchase.ts";
import { type Amendment, type Plan, type Supplier, wholeBed } from "../model.ts";
import { NUTRIENTS, type Nutrient } from "../nutrients.ts";
import { type Notice, noticesOf } from "../problem.ts";
import { buildProgram, cheapestPricePerKg } from "../program/build.ts";
import { isNeed } from "../program/tags.ts";
import type {
  Asked,
  BedAnswer,
  By,
  Measure,
  Mix,
  NutrientCurve,
  Round,
  Solution,
  Verification,
} from "../results/solution.ts";
import type { Season } from "../season/season.ts";
import { isAtBound } from "../solver/program.ts";
import { MAX_VIOLATION, UnverifiedError } from "../solver/verify.ts";
import { cautionsOf } from "../words/cautions.ts";
import { aboveRates } from "../words/counting-words.ts";
import { demandWords, rowName } from "../words/demand-words.ts";
import { listed } from "../words/numbers.ts";
import { placeholderNotice } from "../words/placeholder-words.ts";
import { slipsOf, slipsOfMix, temperatureAssumed } from "../words/slips.ts";
import { pointOf } from "./solve-blend.ts";

/** A bed with the amounts that it gets. */
export interface FedBed {
  readonly plan: Plan;
  readonly season: Season;
  /** kg by amendment of the plan and application. */
  readonly amounts: Amounts;
  /** What of these is given alone, beside the mix; absent: nothing is. */
  readonly alone?: Amounts;
  /** What only this bed's answer says. */
  readonly more?: Partial<Pick<BedAnswer, "sure" | "countings" | "simple">>;
  /** Money per further kg of a need; null: not known. */
  readonly shadowPrice?: (nutrient: Nutrient) => number | null;
}

/** What was found, to be laid out. */
export interface FoundAnswer {
  readonly by: By;
  readonly name: string;
  readonly beds: readonly FedBed[];
  /** Everything on offer, by id. */
  readonly amendments: readonly Amendment[];
  readonly suppliers: readonly Supplier[];
  readonly bought: Bought;
  /** What the search says it costs; recomputed and held against it. */
  readonly cost: number;
  /** No answer costs less. */
  readonly bound: number;
  readonly gap: number;
  readonly status: "optimal" | "found";
  readonly verification: Omit<Verification, "gap">;
  readonly inputs: Asked;
  /** Of the search, for the reader. */
  readonly warnings: readonly Notice[];
  /** Whether to work out curves of supply and need. */
  readonly curves?: boolean;
  /** The application that alone is bought for; absent: all. */
  readonly only?: number;
  /** Mixes that beds share: each bed is in one of them. Absent: each bed has its own. */
  readonly groups?: readonly { readonly name: string; readonly beds: readonly number[] }[];
  /** The amounts were decided before, and need not keep what their plans ask today; absent: they must. */
  readonly asPlanned?: true;
}

/**
 * What a reader of any answer for a plan should know about the plan.
 * @param asked the plan as it was asked: by weight alone the one solved has no packs to look at.
 */
export function planWarnings(plan: Plan, asked = plan): Notice[] {
  return [...slipsOf(asked), ...plan.warnings, ...leftOutWarnings(plan)];
}

/** Which amendments the plan's own words left out, where that may surprise. */
function leftOutWarnings(plan: Plan): Notice[] {
  const notListed = plan.leftOut.filter((left) => left.why === "not listed organic").map((left) => left.id);
  return noticesOf({
    "left-out-not-listed":
      notListed.length > 0 &&
      `Left out because their organic status is not \`listed\`: ${notListed.join(", ")}.`,
  });
}

/** A mix with what it is stirred from. */
interface Heap {
  readonly name: string;
  readonly beds: readonly number[];
  readonly materials: readonly Amendment[];
  /** By material. */
  readonly kg: readonly number[];
  readonly laid: LaidHeap;
}

/**
 * The answer from what was found.
 * @throws UnverifiedError where mixes do not keep their plans, take more than there is, or the money does not add up.
 */
export function layOut(found: FoundAnswer): Solution {
  const { beds, amendments, suppliers, bought, by, inputs, name } = found;
  if (!found.asPlanned)
    for (const { plan, season, amounts, alone } of beds) assertKept(plan, season, amounts, alone);
  const only = found.only;
  const given = beds.map(({ amounts }) =>
    only === undefined ? amounts : amounts.map((row) => row.map((kg, t) => (t === only ? kg : 0))),
  );
  const plans = beds.map(({ plan }) => plan);
  const used = usedKg({ amendments, plans }, given);
  const purchases = linesOf(amendments, bought, used);
  const orders = ordersOf(amendments, suppliers, bought);
  const money = moneyOf(orders);
  assertBought(
    found,
    used,
    orders.some(({ refused }) => refused),
    money.total,
  );
  const stirred = beds.map((bed, p) => withoutAlone(given[p]!, bed.alone));
  const heaps = layOutHeaps(found, stirred, used);
  const worth = (kg: number, a: number) => kg * (cheapestPricePerKg(amendments[a]!) ?? 0);
  const byWeight = sumKg(used.map((kg, a) => worth(Math.max(0, kg - amendments[a]!.stockKg), a)));
  const plants = plans.map(({ bed }) => wholeBed(bed).plants);
  const allPlants = plants.every((count) => count !== undefined) ? sumKg(plants) : null;
  const answers = beds.map((bed, p) => layOutBed(bed, given[p]!, p, heaps, found));
  const rounding = worstRounding(beds, given, heaps);
  const [first] = plans;
  return {
    schema: "barrowmix.solution/2",
    status: found.status,
    name,
    currency: first!.currency,
    units: first!.units,
    by,
    cost: {
      ...money,
      byWeight,
      perPlant: allPlants === null ? null : money.total / allPlants,
      bound: Math.min(found.bound, money.total),
      gap: found.gap,
    },
    mixes: mixesOf(heaps, used, amendments),
    beds: answers,
    purchases,
    suppliers: orders,
    rounding: { scaleKg: first!.scaleKg, ...rounding },
    verification: found.verification,
    conflicts: [],
    cautions: ofAllBeds(answers, ({ cautions }) => cautions),
    warnings: [
      ...ofAllBeds(answers, ({ warnings }) => warnings),
      ...found.warnings,
      ...heaps.flatMap(({ laid }) => laid.warnings),
      ...placeholderNotice(amendments, purchases),
    ],
    inputs,
  };
}

/** @throws UnverifiedError where a mix does not keep its plan. */
function assertKept(plan: Plan, season: Season, amounts: Amounts, alone?: Amounts): void {
  const worst = findMisses(plan, season, amounts, alone)[0];
  if (worst && worst.fraction > MAX_VIOLATION)
    throw new UnverifiedError(
      `The answer does not keep a demand of ${plan.name} (${demandWords(plan, worst.tag)}); no mix is printed.`,
    );
}

/** What of amounts is stirred. */
function withoutAlone(amounts: Amounts, alone: Amounts | undefined): Amounts {
  return alone ? amounts.map((row, a) => row.map((kg, t) => kg - alone[a]![t]!)) : amounts;
}

/** @throws UnverifiedError where the purchase does not hold what is used, or does not cost what was said. */
function assertBought(
  { amendments, bought, cost }: FoundAnswer,
  used: readonly number[],
  refused: boolean,
  total: number,
): void {
  amendments.forEach((amendment, a) => {
    const kg = boughtKg(amendment, bought.counts[a]!, bought.bulkKg[a]!) + amendment.stockKg;
    if (used[a]! > kg * (1 + MAX_VIOLATION) + 1e-9)
      throw new UnverifiedError(
        `The mix takes more ${amendment.name} than is bought and in the shed; nothing is printed.`,
      );
  });
  if (refused)
    throw new UnverifiedError("An order is heavier than its supplier delivers; nothing is printed.");
  if (Math.abs(total - cost) > SAME_TOTAL + 1e-6 * Math.max(1, Math.abs(total)))
    throw new UnverifiedError("The money of this purchase does not add up again; nothing is printed.");
}

/** Totals nearer than this, in the currency, are the same. */
const SAME_TOTAL = 0.001;

const LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ";

/** A, B, .. Z, AA, AB, .. */
export function letterOf(k: number): string {
  return k < LETTERS.length
    ? LETTERS[k]!
    : letterOf(Math.floor(k / LETTERS.length) - 1) + LETTERS[k % LETTERS.length]!;
}

/** What is stirred, heap by heap; what one heap takes by rounding is no longer there for the next. */
function layOutHeaps(
  { beds, amendments, bought, groups }: FoundAnswer,
  given: readonly Amounts[],
  used: readonly number[],
): Heap[] {
  const room = amendments.map((amendment, a) => {
    // Loose weight is bought as the scale shows it.
    if (bought.bulkKg[a]! > 0) return Infinity;
    return Math.max(0, amendment.stockKg + boughtKg(amendment, bought.counts[a]!, 0) - used[a]!);
  });
  const place = new Map(amendments.map(({ id }, a) => [id, a]));
  const heaps: Heap[] = [];
  const add = (heap: Omit<Heap, "laid">, called: string): void => {
    const { materials, kg } = heap;
    const places = materials.map(({ id }) => place.get(id)!);
    const roomKg = places.map((a) => room[a]!);
    const laid = layOutHeap(materials, kg, beds[heap.beds[0]!]!.plan, roomKg, called);
    places.forEach((a, i) => {
      room[a]! -= laid.weighedKg[i]! - kg[i]!;
    });
    heaps.push({ ...heap, laid });
  };
  for (const { name, beds: members } of groups ?? []) {
    const plans = beds.map(({ plan }) => plan);
    const kg = usedKg(
      { amendments, plans },
      given.map((amounts, p) => (members.includes(p) ? amounts : amounts.map((row) => row.map(() => 0)))),
    );
    add({ name, beds: members, materials: amendments, kg }, `mix ${name}`);
  }
  if (groups) return heaps;
  beds.forEach(({ plan }, p) => {
    heapsOf(plan, given[p]!).forEach((kg, b) => {
      const round = plan.applications[b]!.name;
      const own = beds.length === 1 ? round : `${plan.name}, ${round}`;
      const name = plan.blend === "one" ? letterOf(p) : own;
      add({ name, beds: [p], materials: plan.amendments, kg }, plan.blend === "one" ? plan.name : own);
    });
  });
  return heaps;
}

function mixesOf(heaps: readonly Heap[], used: readonly number[], amendments: readonly Amendment[]): Mix[] {
  return heaps.flatMap(({ name, materials: own, kg, laid }): Mix[] => {
    const whole = sumKg(kg);
    if (whole <= 0) return [];
    const materials = own.flatMap((amendment, i) => {
      if (kg[i]! <= 0) return [];
      const inAll = used[amendments.findIndex(({ id }) => id === amendment.id)]!;
      // Where several mixes take of one shed, each takes its part of it.
      const stockKg = Math.min(1, amendment.stockKg / inAll) * kg[i]!;
      return [{ id: amendment.id, name: amendment.name, kg: kg[i]!, share: kg[i]! / whole, stockKg }];
    });
    materials.sort((a, b) => b.kg - a.kg || (a.id < b.id ? -1 : 1));
    const analysis = NUTRIENTS.flatMap((nutrient) => {
      const content = own.reduce(
        (sum, amendment, i) => sum + (amendment.analysis[nutrient] ?? 0) * kg[i]!,
        0,
      );
      return content > 0 ? [[nutrient, content / whole] as const] : [];
    });
    return [{ name, kg: whole, analysis: Object.fromEntries(analysis), materials, batches: laid.batches }];
  });
}

function layOutBed(
  bed: FedBed,
  amounts: Amounts,
  p: number,
  heaps: readonly Heap[],
  found: FoundAnswer,
): BedAnswer {
  const { plan, season, shadowPrice = () => null } = bed;
  const own = heaps.filter((heap) => heap.beds.includes(p));
  const rounds = plan.applications.flatMap((_, t): Round[] =>
    found.only === undefined || found.only === t ? [roundOf(bed, amounts, t, own)] : [],
  );
  const nutrients = found.only === undefined ? deliver(plan, season, amounts) : [];
  const { bedsAlike = 1 } = plan.bed;
  const limestoneKg = limingKg(plan, amounts) / bedsAlike;
  const rounded = roundedAmounts(bed, amounts, own);
  return {
    bed: plan.name,
    target: plan.targetName,
    plants: plan.bed.plants ?? null,
    areaM2: plan.bed.areaM2 ?? null,
    bedsAlike,
    cost:
      sumKg(totalsKg(amounts).map((kg, a) => kg * (cheapestPricePerKg(plan.amendments[a]!) ?? 0))) /
      bedsAlike,
    rounds: rounds.map((round) => ofOne(round, bedsAlike, "kg", "batchesTaken", "litres")),
    nutrients: nutrients.map((one) => ({
      ...ofOne(one, bedsAlike, ...OF_ALL),
      checkpoints: one.checkpoints.map((point) => ofOne(point, bedsAlike, "needKg", "availableKg")),
      shadowPricePerKg: shadowPrice(one.nutrient),
    })),
    binding: found.only !== undefined || found.asPlanned ? [] : bindingNames(plan, season, amounts),
    ...bed.more,
    ...(limestoneKg === 0 ? {} : { limestoneKg }),
    ...(found.curves
      ? { curves: seasonCurves(plan, rounded).map((curve) => curveOfOne(curve, bedsAlike)) }
      : {}),
    conflicts: [],
    cautions: cautionsOf(plan, season, bed.amounts),
    warnings: [
      ...planWarnings(plan, found.inputs.plans[p]),
      ...slipsOfMix(plan, rounds),
      ...aboveRates(plan, amounts, nutrients),
      ...temperatureAssumed(plan, season, amounts),
    ],
  };
}

function roundOf({ plan, alone }: FedBed, amounts: Amounts, t: number, heaps: readonly Heap[]): Round {
  const { name, day } = plan.applications[t]!;
  const heap = heaps[plan.blend === "one" ? 0 : t];
  const each = withoutAlone(amounts, alone).map((row) => row[t]!);
  const kg = sumKg(each);
  const litres = sumKnown(plan.amendments.map((amendment, a) => litresOf(amendment, each[a]!)));
  const { plants, rows, rowLengthM, areaM2 } = wholeBed(plan.bed);
  const rowM = rowLengthM === undefined ? undefined : (rows ?? 1) * rowLengthM;
  const per = (divisor: number | undefined): Measure => ({
    g: divisor === undefined ? null : (kg * 1000) / divisor,
    mL: divisor === undefined || litres === null ? null : (litres * 1000) / divisor,
  });
  const inHeap = heap ? sumKg(heap.kg) : 0;
  return {
    name,
    day,
    date: plan.planted === undefined ? null : dateOfDay(day, plan.planted),
    mix: heap && kg > 0 ? heap.name : null,
    kg,
    batchesTaken: heap && inHeap > 0 ? (heap.laid.batches.count * kg) / inHeap : 0,
    litres,
    alone: plan.amendments.flatMap((amendment, a) => {
      const kg = (alone?.[a]?.[t] ?? 0) / (plan.bed.bedsAlike ?? 1);
      const weighedKg = onScale(kg, plan.scaleKg);
      return kg > 0 ? [{ id: amendment.id, kg, weighedKg, litres: litresOf(amendment, weighedKg) }] : [];
    }),
    perPlant: per(plants),
    perRowMeter: per(rowM),
    perSquareMeter: per(areaM2),
  };
}

/** Of several beds alike, what one gets: some figures of something divided, and null where there is none. */
function ofOne<T extends object, K extends keyof T>(all: T, beds: number, ...figures: readonly K[]): T {
  const parts = figures.map((key) => {
    const kg = all[key] as number | null;
    return [key, kg === null ? null : kg / beds] as const;
  });
  return { ...all, ...Object.fromEntries(parts) };
}

/** The figures of a nutrient that are of the whole bed. */
const OF_ALL = [
  "minKg",
  "maxKg",
  "appliedMaxKg",
  "aheadMaxKg",
  "countedKg",
  "availableKg",
  "appliedKg",
  "creditKg",
  "creditInAllKg",
] as const;

function curveOfOne(curve: NutrientCurve, beds: number): NutrientCurve {
  return {
    ...ofOne(curve, beds, "seasonNeedKg"),
    needKg: curve.needKg?.map((kg) => kg / beds) ?? null,
    supplyKg: curve.supplyKg.map((kg) => kg / beds),
  };
}

/** What a bed really gets once weights are rounded: of each heap the part that its round takes. */
function roundedAmounts({ plan, alone }: FedBed, amounts: Amounts, heaps: readonly Heap[]): number[][] {
  const stirred = withoutAlone(amounts, alone);
  const { bedsAlike = 1 } = plan.bed;
  return plan.amendments.map(({ id }, i) =>
    plan.applications.map((_, t) => {
      const beside = onScale((alone?.[i]?.[t] ?? 0) / bedsAlike, plan.scaleKg) * bedsAlike;
      const heap = heaps[plan.blend === "one" ? 0 : t];
      const whole = heap ? sumKg(heap.kg) : 0;
      const a = heap ? heap.materials.findIndex((material) => material.id === id) : -1;
      if (!heap || whole <= 0 || a < 0) return beside;
      return beside + (heap.laid.weighedKg[a]! * sumKg(stirred.map((row) => row[t]!))) / whole;
    }),
  );
}

/** What rounding the weights to the scale does to the needs, and to the caps and limits, of the worst bed. */
function worstRounding(
  beds: readonly FedBed[],
  given: readonly Amounts[],
  heaps: readonly Heap[],
): Omit<Solution["rounding"], "scaleKg"> {
  let worstShortfall: Solution["rounding"]["worstShortfall"] = { nutrient: null, fraction: 0 };
  let worstBreach: Solution["rounding"]["worstBreach"] = null;
  beds.forEach((bed, p) => {
    const { plan, season, alone } = bed;
    const own = heaps.filter((heap) => heap.beds.includes(p));
    for (const { tag, fraction } of findMisses(plan, season, roundedAmounts(bed, given[p]!, own), alone)) {
      if (isNeed(tag)) {
        if (fraction > worstShortfall.fraction) worstShortfall = { nutrient: tag.nutrient, fraction };
      } else if (fraction > (worstBreach?.fraction ?? 0))
        worstBreach = { demand: demandWords(plan, tag), fraction };
    }
  });
  return { worstShortfall, worstBreach };
}

/** A row this near to its bound, relative to its largest term, is at it. */
const AT_BOUND = 1e-6;

/** Names of the needs, caps and limits of a plan that amounts are at the bound of. */
function bindingNames(plan: Plan, season: Season, amounts: Amounts): string[] {
  const program = buildProgram(plan, season);
  const x = pointOf(plan, program, amounts);
  const rows = program.rows.filter(({ tag }) => tag.kind !== "stock" && tag.kind !== "other");
  const binding = rows.filter((row) => isAtBound(row, x, AT_BOUND));
  return [...new Set(binding.map(({ tag }) => rowName(plan, tag)))];
}

/** What all beds call for once, and the rest by the name of its bed. */
export function ofAllBeds<T extends Notice>(
  beds: readonly BedAnswer[],
  noticesOf: (bed: BedAnswer) => readonly T[],
): T[] {
  const said = new Map<string, { readonly notice: T; readonly names: readonly string[] }>();
  for (const bed of beds)
    for (const notice of noticesOf(bed)) {
      const key = JSON.stringify([notice.code, notice.text]);
      const names = said.get(key)?.names ?? [];
      if (!names.includes(bed.bed)) said.set(key, { notice, names: [...names, bed.bed] });
    }
  return [...said.values()].map(({ notice, names }) =>
    names.length === beds.length ? notice : { ...notice, text: `${listed(names)}: ${notice.text}` },
  );
}

/** An answer without mixes: why there is none. */
export function withoutAnswer(
  by: By,
  name: string,
  inputs: Asked,
  more: Partial<Solution> & Pick<Solution, "verification">,
): Solution {
  const [plan] = inputs.plans;
  return {
    schema: "barrowmix.solution/2",
    status: "infeasible",
    name,
    currency: plan!.currency,
    units: plan!.units,
    by,
    cost: {
      total: null,
      goods: null,
      delivery: null,
      byWeight: null,
      perPlant: null,
      bound: null,
      gap: null,
    },
    mixes: [],
    beds: [],
    purchases: [],
    suppliers: [],
    rounding: {
      scaleKg: plan!.scaleKg,
      worstShortfall: { nutrient: null, fraction: 0 },
      worstBreach: null,
    },
    conflicts: [],
    cautions: [],
    warnings: [],
    inputs,
    ...more,
  };
}

/** A bed that has no answer, with what is known of why. */
export function bedWithout(plan: Plan, more: Partial<BedAnswer> = {}): BedAnswer {
  return {
    bed: plan.name,
    target: plan.targetName,
    plants: plan.bed.plants ?? null,
    areaM2: plan.bed.areaM2 ?? null,
    bedsAlike: plan.bed.bedsAlike ?? 1,
    cost: null,
    rounds: [],
    nutrients: [],
    binding: [],
    conflicts: [],
    cautions: [],
    warnings: planWarnings(plan),
    ...more,
  };
}
