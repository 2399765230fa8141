/**
 * How sure nitrogen is met after a rain, with and without a dressing: what has been in doubt since planting still is, what
 * the rain took is a share of what lay there, and that share is in doubt as well.
 */

import { movedKg } from "../field/chances.ts";
import type { Amounts } from "../field/delivery.ts";
import { drainageOf, leachedFraction, SOIL_WATER_DOUBT } from "../field/rain.ts";
import { SeasonWork } from "../field/sureness.ts";
import type { Plan } from "../model.ts";
import type { PlanProgram } from "../program/tags.ts";
import type { Rain, TopUp } from "../results/topup.ts";
import { layOutSeason, type Season } from "../season/season.ts";
import {
  type Counted,
  countedOf,
  type Doubtful,
  doubtKey,
  doubtsAbout,
  layOutSpread,
  type SpreadSeason,
} from "../season/spread.ts";
import { normalCdf } from "../solver/normal.ts";
import type { Factor, SureRow } from "../solver/sure.ts";

/** A day on which nitrogen is checked after the rain. */
interface Checked {
  readonly day: number;
  readonly needKg: number;
  /** On the average, after the rain, nothing replaced. */
  readonly withoutKg: number;
}

/** In what share of seasons a plan asks to meet its nitrogen; null where it does not ask for more than the average. */
export function askedOfNitrogen({ sure }: Plan): number | null {
  const alone = sure?.each.find(({ nutrient }) => nutrient === "N")?.p ?? 0;
  const together = sure?.together?.nutrients.includes("N") ? sure.together.p : 0;
  const p = Math.max(alone, together);
  return p > 0.5 ? p : null;
}

/** The doubts of one plan, its mix and a rain. */
export class RainySeasons {
  readonly #spread: SpreadSeason;
  readonly #dressed: Plan;
  readonly #dressedSpread: SpreadSeason;

  constructor(
    private readonly plan: Plan,
    season: Season,
    private readonly amounts: Amounts,
    private readonly rain: Rain,
    private readonly nitrogen: TopUp["nitrogen"],
  ) {
    this.#spread = layOutSpread(plan, season);
    this.#dressed = {
      ...plan,
      applications: [{ name: "the dressing", day: rain.day, share: 1 }],
      blend: "one",
      credits: [],
    };
    this.#dressedSpread = layOutSpread(this.#dressed, layOutSeason(this.#dressed));
  }

  #counted(day: number): Counted {
    const demand = this.plan.demands.find(({ nutrient }) => nutrient === "N");
    return demand && day === this.plan.seasonDays ? countedOf(demand) : "available";
  }

  /** By how many kg each doubt moves what is there by a day, the rain's taking included. */
  #moves(day: number): Map<string, number> {
    const { plan, amounts, nitrogen } = this;
    const uses = (a: number): boolean => amounts[a]!.some((kg) => kg > 0);
    const of = (on: number, counted: Counted): Doubtful[] =>
      doubtsAbout(plan, this.#spread, "N", on, counted, uses);
    const moves = new Map<string, number>();
    const add = (key: string, kg: number): void => {
      moves.set(key, (moves.get(key) ?? 0) + kg);
    };
    for (const one of of(day, this.#counted(day))) add(doubtKey(one.doubt), movedKg(one, amounts));
    // Where less had become available, less lay there to be carried away.
    if (nitrogen.atRiskKg > 0)
      for (const one of of(this.rain.day, "available"))
        add(doubtKey(one.doubt), -nitrogen.lostShare * movedKg(one, amounts));
    add("the rain", (nitrogen.lostHighKg - nitrogen.lostLowKg) / 2);
    return moves;
  }

  /** What a dressing adds to the doubts about a day, per kg of each amendment. */
  #dressing(day: number): Map<string, Doubtful> {
    const doubts = doubtsAbout(this.#dressed, this.#dressedSpread, "N", day, this.#counted(day));
    return new Map(
      doubts.map((one) => [one.doubt.kind === "spreading" ? "the dressing" : doubtKey(one.doubt), one]),
    );
  }

  /** The rows of a dressing's program that need a margin of `z` deviations. */
  rows(program: PlanProgram, z: number): SureRow[] {
    const columnOf = new Map(
      program.columns.flatMap(({ tag }, j) => (tag.kind === "use" ? [[tag.id, j] as const] : [])),
    );
    return program.rows.flatMap(({ tag }, row): SureRow[] => {
      if ((tag.kind !== "season-min" && tag.kind !== "in-time") || tag.nutrient !== "N") return [];
      const moves = this.#moves(tag.day);
      const dressing = this.#dressing(tag.day);
      const keys = [...new Set([...moves.keys(), ...dressing.keys()])];
      const factors = keys.map((key): Factor => {
        const perKg = dressing.get(key)?.perKg ?? [];
        return {
          index: perKg.map(({ amendment }) => columnOf.get(this.plan.amendments[amendment]!.id)!),
          value: perKg.map(({ value }) => value),
          constant: moves.get(key) ?? 0,
        };
      });
      return [{ row, z, factors }];
    });
  }

  /** The share of seasons in which a need is met by what is left and a dressing, in closed form. */
  met({ day, needKg, withoutKg }: Checked, kg: readonly number[], addedKg: number): number {
    const moves = this.#moves(day);
    for (const [key, one] of this.#dressing(day))
      moves.set(
        key,
        (moves.get(key) ?? 0) +
          movedKg(
            one,
            kg.map((value) => [value]),
          ),
      );
    const spread = Math.hypot(...moves.values());
    const above = withoutKg + addedKg - needKg;
    if (spread > 0) return normalCdf(above / spread);
    return above >= -1e-9 * needKg ? 1 : 0;
  }

  /** The same counted over worked seasons of the full model, by day. */
  worked(days: readonly Checked[], kg: readonly number[], takenUpKg: number): number[] {
    const { plan, amounts, rain } = this;
    const whole: Plan = {
      ...plan,
      applications: [...plan.applications, { name: "the dressing", day: rain.day, share: 0 }],
    };
    const spread = amounts.map((row, a) => [...row, kg[a]!]);
    const work = new SeasonWork(whole);
    const asked = [
      { nutrient: "N", day: rain.day, counted: "available" } as const,
      ...days.map(({ day }) => ({ nutrient: "N", day, counted: this.#counted(day) }) as const),
    ];
    const { kg: supplied, other } = work.supplies(spread, asked);
    const [lying, ...later] = supplied;
    const drainageM = drainageOf(rain);
    const lost = Float64Array.from(lying!, (availableKg, j) => {
      const soilWater = Math.max(0.01, rain.soilWater - SOIL_WATER_DOUBT * other[j]!);
      return Math.max(0, availableKg - takenUpKg) * leachedFraction({ ...rain, drainageM, soilWater });
    });
    return days.map(({ needKg }, k) => {
      let met = 0;
      for (let j = 0; j < work.count; j++) if (later[k]![j]! - lost[j]! >= needKg * (1 - 1e-9)) met++;
      return met / work.count;
    });
  }
}
