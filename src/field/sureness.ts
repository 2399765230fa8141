/**
 * In how many of 4,096 worked seasons given amounts meet each need.
 *
 * Every season draws each analysis, each release, the soil temperature, each round of spreading and each credit, and
 * multiplies them out as they are in the field; nothing is made linear, and nothing is taken from what found the
 * amounts. The seasons are always the same ones: points of a lattice, each coordinate through the inverse normal law.
 *
 * One quantity is worked for all seasons at a time. What does not depend on the amounts (the draws, and what is
 * available at each soil temperature) is kept from one question about a plan to the next.
 */
import type { Amendment, Application, Credit, Loss, Plan, Reading } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { WATER_STEPS } from "../season/leaching.ts";
import type { Spreading } from "../season/manure.ts";
import { countedShare, curveOf, layOutSeason, type Season } from "../season/season.ts";
import { type NeedOn, needsOf } from "../season/spread.ts";
import { before, gaveKg, warmerBy } from "../season/under-way.ts";
import {
  analysisSpread,
  commonSpread,
  creditSpread,
  ownReleaseSpread,
  spreadingSpread,
  temperatureSpread,
} from "../season/varies.ts";
import { normalColumn } from "../solver/normal.ts";
import type { Amounts } from "./delivery.ts";
import { toldDraws } from "./told-draws.ts";

const WORKED_SEASONS = 4096;
/** Weighed by how likely they make a reading, few of the seasons count for much. */
const WEIGHED = 32_768;
/** As many equal ones tell as much as those weighed must; where they do not, seasons are drawn as the readings tell. */
const LEAST_EFFECTIVE = 3000;
/** Once rounds have been given and the soil has been read more is in doubt: so many come out within 0.3 points. */
const WORKED_UNDER_WAY = 16_384;

/** Soil temperatures for which releases are worked out, in standard deviations; those between are read off a line. */
const STEPS_PER_DEVIATION = 2;
const MOST_DEVIATIONS = 4;
/** Coordinates of the draw that every plan has; the others follow in the order they are first asked for. */
const RELEASES = 0;
const WEATHER = 1;
const COMMON = [
  ["releases", RELEASES],
  ["soil-temperature", WEATHER],
] as const;
/** A supply below its need by less than this share of it is rounding. */
const ROUNDING = 1e-9;

/** A need and the share of the worked seasons that meet it. */
interface WorkedNeed {
  readonly nutrient: Nutrient;
  readonly day: number;
  readonly met: number;
}

export interface WorkedSeasons {
  /** The needs that were worked, in the order of the plan. */
  readonly needs: readonly WorkedNeed[];
  /** Share of seasons that meet all of them. */
  readonly together: number;
  readonly seasons: number;
}

/** A nutrient that is supplied by a day, and how that is counted. */
export type Supplied = Pick<NeedOn, "nutrient" | "day" | "counted">;

/** Rain of the day of a reading has fallen before it. */
const DAY_END = 1e-6;
/** Nothing is known of a reading more closely than this. */
const LEAST_KG = 1e-6;

/** What water carries away. */
const NITROGEN = { nutrient: "N", counted: "available" } as const;

/** What one round of spreading brings of a source. */
interface Round {
  readonly contentKg: number;
  /** Share available by soil temperature, coldest first; one entry where that makes no difference. */
  readonly share: () => Float64Array;
  /** Coordinate of the round's draw; null: a credit is not spread. */
  readonly draw: number | null;
}

/** What one amendment, or one credit, brings to one need. */
interface Source {
  readonly rounds: readonly Round[];
  readonly commonCv: number;
  /** Coordinates of the draw, each with its variation. */
  readonly ownRelease: readonly [draw: number, cv: number] | null;
  /** Of what it holds: the analysis, or the credit as such. */
  readonly contents: readonly [draw: number, cv: number];
  /** The largest share that can be released. A credit is an estimate of what comes, which may turn out more. */
  readonly most: number;
}

/** Hands out a coordinate of the draw for each doubt, in the order they are first asked for. */
class Coordinates {
  readonly #at: Map<string, number>;
  constructor(known: Iterable<readonly [string, number]> = COMMON) {
    this.#at = new Map(known);
  }
  /** The same, to be asked further without those that are asked here. */
  copy(): Coordinates {
    return new Coordinates(this.#at);
  }
  of(key: string): number {
    return kept(this.#at, key, () => this.#at.size);
  }
}

/** The value kept for a key, made when it is first asked for. */
function kept<K extends object, V>(values: WeakMap<K, V>, key: K, make: () => V): V;
function kept<K, V>(values: Map<K, V>, key: K, make: () => V): V;
function kept<K extends object, V>(values: WeakMap<K, V>, key: K, make: () => V): V {
  const known = values.get(key);
  if (known !== undefined) return known;
  const made = make();
  values.set(key, made);
  return made;
}

/** Works the seasons of one plan, for one set of amounts after another. */
export class SeasonWork {
  readonly #season: Season;
  readonly #needs: readonly NeedOn[];
  /** Amendments by what they are, so that their names have no part in what seasons bring. */
  readonly #order: readonly number[];
  readonly #temperatures: readonly Plan[];
  readonly #credits = new Map<Credit, readonly Season[]>();
  readonly #shares = new Map<string, Float64Array>();
  readonly #spread = new Map<number | null, Float64Array>();
  /** Coordinates of what has happened, the same for whatever is asked. */
  readonly #past = new Coordinates();
  /** Draws that a reading of the soil has moved, by coordinate. */
  readonly #told: ReadonlyMap<number, Float64Array>;
  /** By loss of nitrogen: what all up to it have taken, by season. */
  #lost: readonly Float64Array[] | null = null;
  #seasons: readonly Season[] | null = null;
  /** How much each season counts; null: all as much. */
  readonly #weights: Float64Array | null;
  /** By season: the soil temperature below it among those worked out, and how far it is on the way to the next. */
  readonly #node: Uint8Array;
  readonly #part: Float64Array;
  // Filled anew for each source, so that nothing is made for every one.
  readonly #release: Float64Array;
  readonly #kg: Float64Array;
  readonly #supply: Float64Array;
  readonly #between: Float64Array;

  /**
   * @param weighed whether seasons are drawn as they were before any reading, and count by how likely they make it; else
   *   they are drawn as the readings tell by the normal law.
   */
  constructor(
    readonly plan: Plan,
    readonly count: number = plan.past ? WORKED_UNDER_WAY : WORKED_SEASONS,
    weighed = false,
  ) {
    this.#season = layOutSeason(plan);
    this.#needs = needsOf(plan, this.#season);
    this.#order = byContent(plan);
    this.#temperatures = temperaturesOf(before(plan));
    const told = plan.past && !weighed;
    this.#told = told ? toldDraws(plan, plan.past!, (name) => this.#past.of(name), count) : new Map();
    // What was lost and what is left are of the same lots and rounds, whatever is asked first.
    if (plan.past) {
      this.#past.of("soil-water");
      this.#sourcesOf(this.#nothing(), { ...NITROGEN, day: plan.past.on }, this.#past);
    }
    this.#node = new Uint8Array(count);
    this.#part = new Float64Array(count);
    this.#release = new Float64Array(count);
    this.#kg = new Float64Array(count);
    this.#supply = new Float64Array(count);
    this.#between = new Float64Array(count);
    const nodes = this.#temperatures.length;
    const warmth = nodes === 1 ? new Float64Array(0) : this.#draw(WEATHER);
    for (let j = 0; j < warmth.length; j++) {
      const at = Math.min(Math.max((warmth[j]! + MOST_DEVIATIONS) * STEPS_PER_DEVIATION, 0), nodes - 1);
      this.#node[j] = Math.min(Math.floor(at), nodes - 2);
      this.#part[j] = at - this.#node[j]!;
    }
    this.#weights = weighed ? this.#likelihoods(plan.past!.readings) : null;
  }

  /**
   * The seasons in which readings come out as they did: all of them, weighed by how likely they make the readings; or drawn
   * as the readings tell, where too few would count.
   */
  static after(plan: Plan): SeasonWork {
    if (!plan.past || plan.past.readings.length === 0) return new SeasonWork(plan);
    return kept(SeasonWork.#known, plan, () => SeasonWork.#afterReadings(plan));
  }

  /** The seasons of a plan that are worked already, for as long as the plan is asked about. */
  static readonly #known = new WeakMap<Plan, SeasonWork>();

  static #afterReadings(plan: Plan): SeasonWork {
    const weighed = new SeasonWork(plan, WEIGHED, true);
    const { sum, squares } = weighed.#weights!.reduce(
      (of, w) => ({ sum: of.sum + w, squares: of.squares + w * w }),
      { sum: 0, squares: 0 },
    );
    return sum > 0 && sum * sum >= LEAST_EFFECTIVE * squares ? weighed : new SeasonWork(plan);
  }

  /** How likely each season makes the readings, up to a factor. */
  #likelihoods(readings: readonly Reading[]): Float64Array {
    const weights = new Float64Array(this.count).fill(1);
    for (const { day, kg, cv, besideKg, takenUpKg } of readings) {
      const by = { ...NITROGEN, day };
      const supply = this.#supplyFrom(this.#sourcesOf(this.#nothing(), by, this.#past.copy())).slice();
      const lost = this.#lostBy({ ...by, day: day + DAY_END });
      for (let j = 0; j < weights.length; j++) {
        const lies = supply[j]! - takenUpKg - (lost?.[j] ?? 0);
        const deviation = Math.hypot(cv * Math.max(0, lies), besideKg, LEAST_KG);
        weights[j] = weights[j]! * (Math.exp(-0.5 * ((kg - lies) / deviation) ** 2) / deviation);
      }
    }
    return weights;
  }

  /** How often amounts (kg by amendment and application) meet the needs that are asked about. */
  work(amounts: Amounts, asks: (need: NeedOn) => boolean = () => true): WorkedSeasons {
    const { count } = this;
    const coordinates = this.#past.copy();
    const every = new Uint8Array(count).fill(1);
    const needs: WorkedNeed[] = [];
    for (const need of this.#needs) {
      // All needs have their coordinates, so that a season is the same one whatever is asked about it.
      const sources = this.#sourcesOf(amounts, need, coordinates);
      if (!asks(need)) continue;
      const lost = this.#lostBy(need);
      const supply = this.#supplyFrom(sources);
      if (lost) for (let j = 0; j < count; j++) supply[j] = supply[j]! - lost[j]!;
      const left = this.#leftOf(amounts, need, coordinates, supply);
      const least = need.needKg * (1 - ROUNDING);
      const isMet = new Uint8Array(count);
      for (let j = 0; j < count; j++) {
        if (left[j]! >= least) isMet[j] = 1;
        else every[j] = 0;
      }
      needs.push({ nutrient: need.nutrient, day: need.day, met: this.#shareOfSeasons(isMet) });
    }
    return { needs, together: this.#shareOfSeasons(every), seasons: count };
  }

  /** In what share of the seasons something holds, each counting as much as it does. */
  #shareOfSeasons(holds: Uint8Array): number {
    const weights = this.#weights;
    let [sum, all] = [0, 0];
    for (let j = 0; j < holds.length; j++) {
      const weight = weights ? weights[j]! : 1;
      all += weight;
      if (holds[j] === 1) sum += weight;
    }
    return sum / all;
  }

  /**
   * kg of nutrients that amounts supply by some days, each by season, and a further doubt that has nothing to do with
   * them (a standard normal number by season).
   */
  supplies(
    amounts: Amounts,
    asked: readonly Supplied[],
  ): { readonly kg: readonly Float64Array[]; readonly other: Float64Array } {
    const coordinates = this.#past.copy();
    const kg = asked.map((one) => this.#supplyFrom(this.#sourcesOf(amounts, one, coordinates)).slice());
    return { kg, other: normalColumn(coordinates.of("other"), this.count) };
  }

  /** A supply less what expected drainage has carried away by then, season by season: the greater of nothing and that. */
  #leftOf(amounts: Amounts, need: Supplied, coordinates: Coordinates, supply: Float64Array): Float64Array {
    const { lost } = this.#season;
    if (lost === undefined || need.nutrient !== "N" || need.counted !== "available") return supply;
    const left = supply.slice();
    const water = this.#draw(coordinates.of("soil-water"));
    lost.days.forEach((on, k) => {
      if (on >= need.day) return;
      const gone = this.#supplyFrom(this.#sourcesOf(amounts, need, coordinates, k));
      const spared = lost.sparedKg(k);
      for (let j = 0; j < left.length; j++)
        left[j] = left[j]! - Math.max(0, (gone[j]! - spared) * Math.max(0, 1 + lost.doubt * water[j]!));
    });
    return left;
  }

  /** What water had carried away of a supply by a day, by season; undefined: nothing. */
  #lostBy({ nutrient, counted, day }: Supplied): Float64Array | undefined {
    const losses = this.plan.past?.losses ?? [];
    if (nutrient !== "N" || counted !== "available" || losses.length === 0) return undefined;
    this.#lost ??= this.#workLosses(losses);
    return this.#lost[losses.findLastIndex((loss) => loss.day < day)];
  }

  /** What each loss and those before it took, season by season: a share of what lay there, never less than nothing. */
  #workLosses(losses: readonly Loss[]): Float64Array[] {
    const nothing = this.#nothing();
    const water = this.#draw(this.#past.of("soil-water"));
    let earlier = new Float64Array(this.count);
    const [driest] = WATER_STEPS;
    const perStep = 1 / (WATER_STEPS[1]! - driest!);
    return losses.map(({ day, shares, takenUpKg }) => {
      const last = shares.length - 1;
      const shareAt = (deviations: number): number => {
        const at = Math.min(Math.max((deviations - driest!) * perStep, 0), last);
        const k = Math.min(Math.floor(at), last - 1);
        return shares[k]! + (at - k) * (shares[k + 1]! - shares[k]!);
      };
      const lost = this.#supplyFrom(
        this.#sourcesOf(nothing, { ...NITROGEN, day }, this.#past.copy()),
      ).slice();
      for (let j = 0; j < lost.length; j++) {
        const lay = Math.max(0, lost[j]! - takenUpKg - earlier[j]!);
        lost[j] = earlier[j]! + lay * Math.min(1, Math.max(0, shareAt(water[j]!)));
      }
      earlier = lost;
      return lost;
    });
  }

  /** No more of anything. */
  #nothing(): Amounts {
    return this.plan.amendments.map(() => this.plan.applications.map(() => 0));
  }

  /** The draw of a coordinate, by season. */
  #draw(coordinate: number): Float64Array {
    return this.#told.get(coordinate) ?? normalColumn(coordinate, this.count);
  }

  /** What sources bring together, by season; written over by the next call. */
  #supplyFrom(sources: readonly Source[]): Float64Array {
    this.#supply.fill(0);
    for (const source of sources) this.#add(source);
    return this.#supply;
  }

  /** Adds what a source brings, season by season. */
  #add({ rounds, commonCv, ownRelease, contents, most }: Source): void {
    const release = this.#release;
    const kg = this.#kg;
    const certain = commonCv === 0 && ownRelease === null;
    if (!certain) {
      release.fill(1);
      scale(release, commonCv, this.#draw(RELEASES));
    }
    if (ownRelease) scale(release, ownRelease[1], this.#draw(ownRelease[0]));
    kg.fill(0);
    for (const { contentKg, draw, share } of rounds) {
      const table = share();
      const spread = this.#spreadIn(draw);
      if (certain && table.length === 1) addEven(kg, contentKg * clipped(table[0]!, table[0]!, most), spread);
      else addReleased(kg, contentKg, this.#given(table), certain ? null : release, spread, most);
    }
    addHeld(this.#supply, kg, contents[1], this.#draw(contents[0]));
  }

  /** Share available by season, from those by soil temperature; written over by the next call. */
  #given(table: Float64Array): Float64Array {
    if (table.length === 1) return this.#between.fill(table[0]!);
    readOff(this.#between, table, this.#node, this.#part);
    return this.#between;
  }

  /** By season: what part of its weight a round brings to the bed; all of it for a credit. */
  #spreadIn(draw: number | null): Float64Array {
    return kept(this.#spread, draw, () => {
      const made = new Float64Array(this.count).fill(1);
      if (draw === null) return made;
      const spreading = spreadingSpread(this.plan);
      const column = this.#draw(draw);
      for (let j = 0; j < made.length; j++) made[j] = Math.max(0, 1 + spreading * column[j]!);
      return made;
    });
  }

  /** @param drainage of what they bring, what this drainage (index) would carry away; absent: all of it. */
  #sourcesOf(amounts: Amounts, need: Supplied, coordinates: Coordinates, drainage?: number): Source[] {
    const { plan } = this;
    const { nutrient, day, counted } = need;
    const applied = counted === "applied";
    const given = plan.past?.given ?? [];
    const found: Source[] = [];
    for (const a of this.#order) {
      const amendment = plan.amendments[a]!;
      const content = amendment.analysis[nutrient] ?? 0;
      const weights = [...amounts[a]!, ...given.map((one) => gaveKg([one], amendment.id))];
      if (content === 0 || !weights.some((kg) => kg > 0)) continue;
      const curve = curveOf(amendment, nutrient);
      const ownReleaseCv = applied ? 0 : ownReleaseSpread(plan, curve);
      const left = plan.applications.length;
      const rounds = [...plan.applications, ...given].flatMap((how, t) => {
        const key = t < left ? `round ${t}` : `given ${t - left}`;
        const share = () => this.#shareOf(amendment, `${a} ${key}`, how, need, drainage);
        const kg = weights[t]!;
        return kg > 0 ? [{ contentKg: kg * content, share, draw: coordinates.of(key) }] : [];
      });
      found.push({
        rounds,
        contents: [
          coordinates.of(`analysis ${amendment.id} ${nutrient}`),
          analysisSpread(amendment, nutrient),
        ],
        ownRelease:
          ownReleaseCv > 0 ? [coordinates.of(`release ${amendment.id} ${nutrient}`), ownReleaseCv] : null,
        commonCv: applied ? 0 : commonSpread(plan, curve),
        most: 1,
      });
    }
    for (const [c, credit] of plan.credits.entries()) {
      const content = credit.contentKg[nutrient] ?? 0;
      if (content === 0) continue;
      const share = () =>
        applied
          ? Float64Array.of(this.#creditSeasons(credit)[0]!.creditInAllKg(nutrient) / content)
          : Float64Array.from(
              this.#creditSeasons(credit),
              (one) =>
                (drainage === undefined ? one.creditKg(nutrient, day) : one.lost!.creditKg(drainage)) /
                content,
            );
      found.push({
        rounds: [{ contentKg: content, share, draw: null }],
        contents: [coordinates.of(`credit ${c}`), creditSpread(credit)],
        ownRelease: null,
        commonCv: applied ? 0 : commonSpread(plan, credit.release),
        most: Number.POSITIVE_INFINITY,
      });
    }
    return found;
  }

  /** Share of a nutrient that is available of what a round brought, by soil temperature. */
  #shareOf(
    amendment: Amendment,
    key: string,
    how: Spreading & Pick<Application, "day">,
    { nutrient, day, counted }: Supplied,
    drainage?: number,
  ): Float64Array {
    if (counted === "applied") return Float64Array.of(countedShare(amendment, nutrient));
    const of = drainage === undefined ? `${nutrient} ${day}` : `drainage ${drainage}`;
    return kept(this.#shares, `${key} ${of}`, () => {
      this.#seasons ??= this.#temperatures.map((one) => layOutSeason({ ...one, credits: [] }));
      return Float64Array.from(this.#seasons, (season) =>
        drainage === undefined
          ? season.available(amendment, nutrient, how.day, day, how)
          : season.lost!.share(drainage, amendment, how.day, how),
      );
    });
  }

  #creditSeasons(credit: Credit): readonly Season[] {
    return kept(this.#credits, credit, () =>
      this.#temperatures.map((one) => layOutSeason({ ...one, credits: [credit] })),
    );
  }
}

/** What is released of a lot is never more than there is; what ties nitrogen up can only tie up more or less of it. */
function clipped(given: number, released: number, most: number): number {
  if (given > 0) return released > most ? most : Math.max(released, 0);
  return Math.min(released, 0);
}

// One loop to a function: a program that has just begun makes such functions fast after the first of them has run.

/** Each season's value times what a doubt of so much variation makes of it. */
function scale(values: Float64Array, cv: number, draw: Float64Array): void {
  for (let j = 0; j < values.length; j++) values[j] = values[j]! * (1 + cv * draw[j]!);
}

/** Reads values off a table, on a line between two of its entries. */
function readOff(into: Float64Array, table: Float64Array, node: Uint8Array, part: Float64Array): void {
  for (let j = 0; j < into.length; j++) {
    const low = table[node[j]!]!;
    into[j] = low + part[j]! * (table[node[j]! + 1]! - low);
  }
}

/** Adds what a round brings of what neither release nor soil temperature changes. */
function addEven(kg: Float64Array, broughtKg: number, spread: Float64Array): void {
  for (let j = 0; j < kg.length; j++) kg[j] = kg[j]! + broughtKg * spread[j]!;
}

/** Adds what a round brings, before it is known what the source holds; `release` null: as given. */
function addReleased(
  kg: Float64Array,
  contentKg: number,
  given: Float64Array,
  release: Float64Array | null,
  spread: Float64Array,
  most: number,
): void {
  for (let j = 0; j < kg.length; j++) {
    const share = given[j]!;
    kg[j] = kg[j]! + contentKg * clipped(share, release ? share * release[j]! : share, most) * spread[j]!;
  }
}

/** Adds what a source brings to a supply, by what it turns out to hold; it never holds less than nothing. */
function addHeld(supply: Float64Array, kg: Float64Array, cv: number, draw: Float64Array): void {
  for (let j = 0; j < supply.length; j++) {
    const factor = 1 + cv * draw[j]!;
    if (factor > 0) supply[j] = supply[j]! + kg[j]! * factor;
  }
}

/** Indices of a plan's amendments, in an order that does not depend on their names. */
function byContent({ amendments }: Plan): number[] {
  const keys = amendments.map(({ analysis, kind, release, packs, bulkPricePerKg, stockKg }) =>
    JSON.stringify([Object.entries(analysis).sort(), kind, release, packs, bulkPricePerKg, stockKg]),
  );
  return keys.map((_, a) => a).sort((a, b) => (keys[a]! < keys[b]! ? -1 : keys[a]! > keys[b]! ? 1 : a - b));
}

/** The plan at each soil temperature; one where temperature is not given or does not vary. */
function temperaturesOf(plan: Plan): Plan[] {
  const sd = temperatureSpread(plan);
  if (sd === 0 || plan.soilTemperatureC === undefined) return [plan];
  const nodes = 2 * MOST_DEVIATIONS * STEPS_PER_DEVIATION + 1;
  return Array.from({ length: nodes }, (_, k) =>
    warmerBy(plan, sd * (k / STEPS_PER_DEVIATION - MOST_DEVIATIONS)),
  );
}
