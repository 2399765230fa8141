/**
 * How sure nitrogen is met after a rain, with and without a dressing: what has been in doubt since planting still is, what
 * the rain took is a share of what lay there, and that share is in doubt as well.
 */

import { movedKg, roomOf } from "../field/chances.ts";
import type { Amounts } from "../field/delivery.ts";
import { leachedBy, SOIL_WATER_DOUBT } from "../field/rain.ts";
import { SeasonWork } from "../field/sureness.ts";
import type { Plan } from "../model.ts";
import { isNeed, type PlanProgram } from "../program/tags.ts";
import type { Rain, ToppedUpSureness, TopUp } from "../results/topup.ts";
import { demandOf, layOutSeason, type Season, wouldTakeUpKg } from "../season/season.ts";
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
import { levelsOf } from "./sure.ts";

/** A day on which a nutrient is checked after the rain. */
export interface Checked {
  readonly day: number;
  readonly needKg: number;
  /** On the average, after the rain, nothing replaced. */
  readonly availableKg: number;
  /** Of what counts towards the need. */
  readonly reachedKg: number;
}

/** In what share of seasons a plan asks to meet its nitrogen; undefined where it asks for no more than the average. */
export function askedOfNitrogen({ sure }: Plan): number | undefined {
  const alone = levelsOf(sure).get("N") ?? 0;
  const together = sure?.together?.nutrients.includes("N") ? sure.together.p : 0;
  const p = Math.max(alone, together);
  return p > 0.5 ? p : undefined;
}

/** A plan from the rain on, with nothing to spread but the dressing. */
export function dressedAlone(plan: Plan, day: number): Plan {
  const applications = [{ name: "the dressing", day, share: 1 }];
  return { ...plan, applications, blend: "one", limits: [], credits: [] };
}

/** What has happened to a plan by the end of the rain. */
interface Rained {
  /** What was spread. */
  readonly amounts: Amounts;
  readonly rain: Rain;
  readonly nitrogen: TopUp["nitrogen"];
  /** Of nitrogen. */
  readonly left: readonly Checked[];
  /** In what share of seasons it is to be met. */
  readonly asked: number;
}

/** The doubts of one plan, its mix and a rain. */
export class RainySeasons {
  readonly asked: number;
  readonly #spread: SpreadSeason;
  readonly #dressed: Plan;
  readonly #dressedSpread: SpreadSeason;

  constructor(
    private readonly plan: Plan,
    season: Season,
    private readonly rained: Rained,
  ) {
    this.asked = rained.asked;
    this.#spread = layOutSpread(plan, season);
    this.#dressed = dressedAlone(plan, rained.rain.day);
    this.#dressedSpread = layOutSpread(this.#dressed, layOutSeason(this.#dressed));
  }

  #counted(day: number): Counted {
    return day === this.plan.seasonDays ? countedOf(demandOf(this.plan, "N")) : "available";
  }

  /** By how many kg each doubt moves what is there by a day, the rain's taking included. */
  #moves(day: number): Map<string, number> {
    const { plan } = this;
    const { amounts, rain, nitrogen } = this.rained;
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
      for (const one of of(rain.day, "available"))
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
      if (!isNeed(tag) || tag.nutrient !== "N") return [];
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

  /** How often the need of each of some days is met, with a dressing and without. */
  met(points: TopUp["checkpoints"], kg: readonly number[]): ToppedUpSureness[] {
    const checked = this.worked(kg);
    const none = kg.map(() => 0);
    return points.map((point, k) => ({
      without: this.#chance(point, none, point.withoutKg),
      with: this.#chance(point, kg, point.withKg),
      withChecked: checked[k]!,
    }));
  }

  /** The chance that what is expected with a dressing meets a need, in closed form. */
  #chance({ day, needKg }: Pick<Checked, "day" | "needKg">, kg: readonly number[], expectKg: number): number {
    const moves = this.#moves(day);
    const given = kg.map((value) => [value]);
    for (const [key, one] of this.#dressing(day)) moves.set(key, (moves.get(key) ?? 0) + movedKg(one, given));
    return normalCdf(roomOf({ expectKg, spreadKg: Math.hypot(...moves.values()) }, needKg));
  }

  /** In what share of worked seasons of the full model a dressing meets each need. */
  worked(kg: readonly number[]): number[] {
    const { plan } = this;
    const { amounts, rain, left } = this.rained;
    const whole: Plan = {
      ...plan,
      applications: [...plan.applications, { name: "the dressing", day: rain.day, share: 0 }],
    };
    const spread = amounts.map((row, a) => [...row, kg[a]!]);
    const work = new SeasonWork(whole);
    const asked = [
      { nutrient: "N", day: rain.day, counted: "available" } as const,
      ...left.map(({ day }) => ({ nutrient: "N", day, counted: this.#counted(day) }) as const),
    ];
    const { kg: supplied, other } = work.supplies(spread, asked);
    const [lying, ...later] = supplied;
    const takenUpKg = wouldTakeUpKg(plan, demandOf(plan, "N"), rain.day);
    const lost = Float64Array.from(
      lying!,
      (availableKg, j) =>
        Math.max(0, availableKg - takenUpKg) * leachedBy(rain, -SOIL_WATER_DOUBT * other[j]!),
    );
    return left.map(({ needKg }, k) => {
      let met = 0;
      for (let j = 0; j < work.count; j++) if (later[k]![j]! - lost[j]! >= needKg * (1 - 1e-9)) met++;
      return met / work.count;
    });
  }
}
