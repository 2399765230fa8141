/** What the season of a plan can be asked. */
import type { Amendment } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import type { Spreading } from "./manure.ts";

export interface Season {
  /** Days on which needs are checked: just before each later application, on days that the plan names, and at the season's end. Rising. */
  readonly checkpoints: readonly number[];
  /**
   * Share of an amendment's nutrient that is available on `day` when it was applied on `appliedDay`. Left on the surface,
   * manure loses nitrogen to the air.
   */
  available(
    amendment: Amendment,
    nutrient: Nutrient,
    appliedDay: number,
    day: number,
    how?: Spreading,
  ): number;
  /**
   * kg of a nutrient that credits have made available by `day`, for the whole bed; in a season under way, with what was
   * spread before and without what water took. Of N, S and B only what is released from day -60 on: what was released before
   * is the last season's.
   */
  creditKg(nutrient: Nutrient, day: number): number;
  /** kg of a nutrient that credits bring in all, whenever it becomes available; of N, S and B as above. */
  creditInAllKg(nutrient: Nutrient): number;
  /** What expected drainage carries away of nitrogen; absent: none is expected. */
  readonly lost?: Lost;
}

/**
 * Nitrogen that expected drainages carry below the roots: drainage `k` takes `max(0, ..)` of what it would take of all that
 * lies there, by amendment and by credits, less what uptake has spared.
 */
export interface Lost {
  /** Days of the drainages, rising. */
  readonly days: readonly number[];
  /** Of an amendment's nitrogen that was put down on a day: the share that drainage `k` would carry away. */
  share(k: number, amendment: Amendment, appliedDay: number, how?: Spreading): number;
  /** kg of credited nitrogen that drainage `k` would carry away. */
  creditKg(k: number): number;
  /** kg that drainage `k` does not find, since the crop has taken them up. */
  sparedKg(k: number): number;
  /** One standard deviation of what a drainage takes, as a share of it: soil water is hardly known better. */
  readonly doubt: number;
}
