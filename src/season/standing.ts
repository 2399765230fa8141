/**
 * Where a bed stands: the nitrogen that has become available, that the crop has taken up and that water has carried below
 * the roots, each with what is in doubt about it; and what readings of the soil's nitrate make of that.
 *
 * Uptake by day d is `min x efficiency x U(d)` and takes first what has lain longest. Of a layer that has lain since the
 * drainage D, a drainage I takes (X(D + I) - X(D)) / (1 - X(D)) of what is left (`leaching.ts`).
 *
 * A reading z of an expected M with spreads h, its own error r: doubts move to h (z - M) / (h.h + r^2), and every spread v
 * becomes v - beta h (h.v) / (h.h) with beta = 1 - sqrt(r^2 / (h.h + r^2)): the normal law given one linear observation.
 */
import type { Given, Loss, Move, Past, Plan, Reading } from "../model.ts";
import {
  leachedNext,
  mixedToM,
  SOIL_WATER,
  SOIL_WATER_DOUBT,
  type SoilWater,
  WATER_STEPS,
} from "./leaching.ts";
import { demandOf, layOutSeason, wouldTakeUpKg } from "./season.ts";
import { doubtKey, doubtsAbout, layOutSpread } from "./spread.ts";

/** Water on a day: rain or irrigation less what evaporated. */
export interface Water {
  readonly day: number;
  readonly drainageM: number;
}

/** What a soil test found. */
export interface NitrateFound {
  readonly day: number;
  /** Nitrate nitrogen on the bed. */
  readonly kg: number;
  /** Of the test, as a standard deviation over what it finds. */
  readonly cv: number;
  /** At or below what a test can tell from nothing. */
  readonly atMost: boolean;
  /** It was taken in another bed, that got the same lots. */
  readonly elsewhere?: boolean;
}

/** What has happened to one bed. */
export interface Happened {
  /** By day. */
  readonly given: readonly Given[];
  readonly water: readonly Water[];
  readonly found: readonly NitrateFound[];
}

/** A reading beside what was expected of it. */
export interface Compared {
  readonly day: number;
  readonly measuredKg: number;
  /** Available, not taken up and not lost. */
  readonly expectedKg: number;
  /** One standard deviation of what was expected. */
  readonly spreadKg: number;
}

export interface Standing {
  readonly past: Past;
  /** Of nitrogen by the day asked about, as it is expected now. */
  readonly releasedKg: number;
  readonly takenUpKg: number;
  readonly lostKg: number;
  readonly readings: readonly Compared[];
}

/** A strip test against a laboratory's, after averaging (Benaki 2009, single values -6 to +10 ppm); a judgement. */
export const STRIP_CV = 0.15;
/** How far releases of the same lots differ from bed to bed; a judgement. */
const BETWEEN_BEDS_CV = 0.04;
/** How far the crop's uptake is known; a judgement. */
const UPTAKE_CV = 0.1;

type Moves = Map<string, number>;

const asMoves = (moves: Moves): Move[] =>
  [...moves].flatMap(([doubt, by]) => (by === 0 ? [] : [{ doubt, by }]));

function dot(a: Moves, b: Moves): number {
  let sum = 0;
  for (const [key, by] of a) sum += by * (b.get(key) ?? 0);
  return sum;
}

/** Adds so many times some moves. */
function add(into: Moves, moves: Moves, times: number): void {
  for (const [key, by] of moves) into.set(key, (into.get(key) ?? 0) + times * by);
}

/** An amount that is expected, and what each doubt moves of it. */
interface Amount {
  kg: number;
  readonly moves: Moves;
}

/** What is mixed to one depth: what of it has become available by a day, before any reading. */
interface Part {
  readonly mixedM: number;
  readonly by: (day: number) => Amount;
}

/** A part of the soil's nitrogen that lies since the same drainage and to the same depth. */
interface Layer {
  readonly sinceM: number;
  readonly mixedM: number;
  kg: number;
}

/**
 * Where a bed stands on a day.
 * @param plan the bed's plan as it was made; its applications do not count.
 * @param happened by the day; what is later is not looked at.
 */
export function standingOn(plan: Plan, happened: Happened, on: number): Standing {
  const past: Past = {
    on,
    given: happened.given.filter(({ day }) => day <= on),
    losses: [],
    lossSpreads: [],
    readings: [],
    shifts: [],
  };
  const bed = new Bed({ ...plan, past, applications: [{ name: "", day: on, share: 1 }] }, on);
  const events = [
    ...byDay(happened.water).map((water) => ({ ...water, order: 0 })),
    ...happened.found.map((found) => ({ ...found, order: 1 })),
  ]
    .filter(({ day }) => day <= on)
    .sort((a, b) => a.day - b.day || a.order - b.order);
  for (const event of events) {
    if ("drainageM" in event) bed.drain(event);
    else bed.read(event);
  }
  return bed.standing(past);
}

/** Water of one day is one, however many lines it is written on. */
function byDay(water: readonly Water[]): Water[] {
  const drained = new Map<number, number>();
  for (const { day, drainageM } of water) drained.set(day, (drained.get(day) ?? 0) + drainageM);
  return [...drained].map(([day, drainageM]) => ({ day, drainageM }));
}

/** How a loss changes with the water that the soil holds is read off so much to either side. */
const HOLDS_STEP = 0.001;
/** Less than this drains nowhere, metres. */
const LEAST_DRAINAGE_M = 1e-6;

/** One bed as its season goes on. */
class Bed {
  readonly #water: SoilWater;
  /** What is in the soil, by how deep it is mixed, metres. */
  readonly #parts: readonly Part[];
  readonly #lost: Amount = { kg: 0, moves: new Map() };
  readonly #losses: Loss[] = [];
  readonly #readings: Reading[] = [];
  readonly #compared: Compared[] = [];
  /** Where readings put the doubts as they were at first. */
  readonly #shifts: Moves = new Map();
  #layers: Layer[] = [];
  /** By depth: what had become available when layers were last looked at. */
  readonly #seen = new Map<number, number>();
  /** Uptake that found nothing there. */
  #lacking = 0;
  #takenUpKg = 0;
  #drainedM = 0;

  constructor(
    readonly plan: Plan,
    readonly on: number,
  ) {
    const { holds = SOIL_WATER.holds, rootsM = SOIL_WATER.rootsM } = plan.soil ?? {};
    this.#water = { holds, rootsM };
    const { past, credits } = plan;
    const depthOf = ({ placement }: Given): number => mixedToM(placement);
    // A credit is placed nowhere, as what lies on the surface.
    const depths = new Set([...(credits.length > 0 ? [0] : []), ...past!.given.map(depthOf)]);
    this.#parts = [...depths].map((mixedM) => {
      const given = past!.given.map((one) => (depthOf(one) === mixedM ? one : { ...one, kg: [] }));
      const own = { ...plan, past: { ...past!, given }, credits: mixedM === 0 ? credits : [] };
      const season = layOutSeason(own);
      const spread = layOutSpread(own, season);
      return {
        mixedM,
        by: (day) => ({
          kg: season.creditKg("N", day),
          moves: new Map(
            doubtsAbout(own, spread, "N", day).map(({ doubt, constantKg }) => [doubtKey(doubt), constantKg]),
          ),
        }),
      };
    });
  }

  /** Nitrogen that has become available by a day, by how deep it is mixed, as it is expected after the readings so far. */
  #byDepth(day: number): (readonly [mixedM: number, kg: number])[] {
    return this.#parts.map(({ mixedM, by }) => {
      const { kg, moves } = by(day);
      return [mixedM, kg + dot(this.#shifts, moves)];
    });
  }

  /** All of that, and what is still in doubt about it. */
  #available(day: number): Amount {
    const moves: Moves = new Map();
    let kg = 0;
    for (const { by } of this.#parts) {
      const part = by(day);
      kg += part.kg + dot(this.#shifts, part.moves);
      add(moves, part.moves, 1);
    }
    for (const reading of this.#readings) tell(moves, reading);
    return { kg, moves };
  }

  #takenUpBy(day: number): number {
    const demand = demandOf(this.plan, "N");
    return wouldTakeUpKg(this.plan, demand, Math.min(day, this.plan.seasonDays)) * (demand.efficiency ?? 1);
  }

  /** Available, not taken up and not lost, by a day. */
  #lying(day: number): Amount {
    const { kg, moves } = this.#available(day);
    add(moves, this.#lost.moves, -1);
    return { kg: kg - this.#takenUpBy(day) - this.#lost.kg, moves };
  }

  /** Brings the layers up to a day: what has become available since, and what the crop has taken, oldest first. */
  #bringUpTo(day: number): void {
    for (const [mixedM, by] of this.#byDepth(day)) {
      const kg = by - (this.#seen.get(mixedM) ?? 0);
      this.#seen.set(mixedM, by);
      if (kg > 0) this.#layers.push({ sinceM: this.#drainedM, mixedM, kg });
      else this.#lacking -= kg;
    }
    const takenUp = this.#takenUpBy(day);
    let wanted = this.#lacking + takenUp - this.#takenUpKg;
    this.#takenUpKg = takenUp;
    for (const layer of this.#layers) {
      const taken = Math.min(layer.kg, Math.max(0, wanted));
      layer.kg -= taken;
      wanted -= taken;
    }
    this.#lacking = wanted;
    this.#layers = this.#layers.filter(({ kg }) => kg > 0);
  }

  drain({ day, drainageM }: Water): void {
    const under = this.plan.cover !== undefined && this.plan.cover !== "open";
    if (!(drainageM > LEAST_DRAINAGE_M) || under) return;
    this.#bringUpTo(day);
    const { kg, moves } = this.#lying(day);
    // A reading may have told that the soil holds more water, or less, than was thought.
    const told = this.#shifts.get("soil-water") ?? 0;
    const { rootsM } = this.#water;
    const now = this.#water.holds + SOIL_WATER_DOUBT * told;
    const partOf = ({ sinceM, mixedM }: Layer, holds: number): number =>
      leachedNext({ holds, rootsM }, this.#drainedM - sinceM, drainageM, mixedM);
    const lostWith = (holds: number): number =>
      this.#layers.reduce((sum, one) => sum + one.kg * partOf(one, holds), 0);
    const lost = lostWith(now);
    const perHolds = (lostWith(now - HOLDS_STEP) - lostWith(now + HOLDS_STEP)) / (2 * HOLDS_STEP);
    const there = this.#layers.reduce((sum, one) => sum + one.kg, 0);
    // Of the soil as it was thought to be at first, which is what drawn seasons start from.
    const shares = WATER_STEPS.map((sd) => lostWith(this.#water.holds + SOIL_WATER_DOUBT * sd) / there);
    for (const layer of this.#layers) layer.kg *= 1 - partOf(layer, now);
    this.#drainedM += drainageM;
    if (!(lost > 0)) return;
    const share = lost / there;
    this.#lost.kg += lost;
    if (kg > 0) add(this.#lost.moves, moves, share);
    const water: Moves = new Map([["soil-water", -SOIL_WATER_DOUBT * perHolds]]);
    for (const reading of this.#readings) tell(water, reading);
    add(this.#lost.moves, water, 1);
    this.#losses.push({ day, kg: lost, shares, takenUpKg: this.#takenUpKg });
  }

  read({ day, kg: measured, cv, atMost, elsewhere }: NitrateFound): void {
    const { kg: expected, moves: h } = this.#lying(day);
    const hh = dot(h, h);
    this.#compared.push({ day, measuredKg: measured, expectedKg: expected, spreadKg: Math.sqrt(hh) });
    // What a test cannot tell from nothing is at most that: it never raises what is expected.
    if (!(hh > 0) || (atMost && measured >= expected)) return;
    const between = elsewhere ? BETWEEN_BEDS_CV * this.#available(day).kg : 0;
    const takenUpKg = this.#takenUpBy(day);
    const besideKg = Math.hypot(UPTAKE_CV * takenUpKg, between);
    const r2 = (cv * Math.max(expected, measured)) ** 2 + besideKg ** 2;
    const xi = (measured - expected) / (hh + r2);
    const beta = 1 - Math.sqrt(r2 / (hh + r2));
    this.#bringUpTo(day);
    const reading = { beta, spreads: asMoves(h), day, kg: measured, cv, besideKg, takenUpKg };
    // The shift is of doubts as the readings before have left them: back to what they were at first.
    const shift: Moves = new Map([...h].map(([key, by]) => [key, xi * by]));
    for (const before of this.#readings.toReversed()) tell(shift, before);
    const lostMore = xi * dot(h, this.#lost.moves);
    this.#lost.kg += lostMore;
    tell(this.#lost.moves, reading);
    this.#readings.push(reading);
    add(this.#shifts, shift, 1);
    this.#moveLayers(expected, expected + xi * hh, day);
  }

  /** After a reading, what lies there is so much more or less in every layer. */
  #moveLayers(before: number, after: number, day: number): void {
    const there = this.#layers.reduce((sum, { kg }) => sum + kg, 0);
    const wanted = Math.max(0, after);
    if (there > 0) for (const layer of this.#layers) layer.kg *= wanted / there;
    else if (wanted > 0) this.#layers.push({ sinceM: this.#drainedM, mixedM: 0, kg: wanted });
    this.#lacking = Math.max(0, -after);
    if (after !== before) for (const [depth, by] of this.#byDepth(day)) this.#seen.set(depth, by);
  }

  standing(past: Past): Standing {
    const { kg: lostKg, moves } = this.#lost;
    const all = this.#losses.reduce((sum, { kg }) => sum + kg, 0);
    return {
      past: {
        ...past,
        // A reading tells of what was lost before it, too.
        losses: this.#losses.map((loss) => ({
          ...loss,
          kg: all === 0 ? 0 : (loss.kg * Math.max(0, lostKg)) / all,
        })),
        lossSpreads: asMoves(moves),
        readings: this.#readings,
        shifts: asMoves(this.#shifts),
      },
      releasedKg: this.#available(this.on).kg,
      takenUpKg: this.#takenUpBy(this.on),
      lostKg: Math.max(0, lostKg),
      readings: this.#compared,
    };
  }
}

/** What a reading leaves of moves: v - beta h (h.v) / (h.h). */
function tell(moves: Moves, { beta, spreads }: Pick<Reading, "beta" | "spreads">): void {
  const h: Moves = new Map(spreads.map(({ doubt, by }) => [doubt, by]));
  const along = dot(h, moves);
  if (along !== 0) add(moves, h, (-beta * along) / dot(h, h));
}
