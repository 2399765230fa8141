/** The result of `sweep`, and its JSON (schema barrowmix.sweep/2). SI throughout; money in the plan's currency. */
import type { Amount, ComparedPurchase } from "./comparison.ts";
import type { By, PurchaseLine } from "./solution.ts";

/** The least cost at one value. */
export interface SweepPoint {
  readonly value: number;
  /** `found`, by purchase alone: the best found in time; the purchase's `gap` says how much cheaper another could be. */
  readonly status: "optimal" | "found" | "infeasible";
  /** By weight or of the purchase, as `by` says; null where no mix is feasible. */
  readonly total: number | null;
  /** What is used, by id. */
  readonly amendments: readonly Amount[];
  /** Only of sureness: share of worked seasons in which the least sure of the swept needs is met; null without a mix. */
  readonly met?: number | null;
  /** Only by purchase: what the least-cost mix costs by weight. */
  readonly byWeight?: number | null;
  /** Only by purchase; null where there is none. */
  readonly purchase?: SweptPurchase | null;
}

/** What is bought at one value. */
export interface SweptPurchase extends ComparedPurchase {
  readonly lines: readonly PurchaseLine[];
}

/** Steps one after the other at which the same packs are bought. */
export interface SweepRun {
  /** The values of the first and the last of these steps. */
  readonly from: number;
  readonly to: number;
  readonly steps: number;
  /** At these two values. */
  readonly totalFrom: number;
  readonly totalTo: number;
  /** Least and most at any of the steps: in all, for delivery, and the worth of what stays over. */
  readonly total: readonly [least: number, most: number];
  readonly delivery: readonly [least: number, most: number];
  readonly leftWorth: readonly [least: number, most: number];
  /** As at the first of the steps. */
  readonly lines: readonly PurchaseLine[];
}

/** A value at which the mix changes. */
export interface Breakpoint {
  readonly value: number;
  readonly total: number;
  /** Ids that are in the mix above the value and not below it. */
  readonly entered: readonly string[];
  /** Ids that are in the mix below the value and not above it. */
  readonly left: readonly string[];
  /** Demands that begin or cease to bind on the way up. */
  readonly binds: readonly string[];
  readonly frees: readonly string[];
}

/** A stretch between breakpoints: cost and amounts run straight from one end to the other. */
export interface SweepSegment {
  readonly from: number;
  readonly to: number;
  readonly totalFrom: number;
  readonly totalTo: number;
  /** Change of cost per unit of the value. */
  readonly slope: number;
  readonly amendmentsFrom: readonly Amount[];
  readonly amendmentsTo: readonly Amount[];
  /** Demands that bind. */
  readonly binding: readonly string[];
  /** Only by purchase: what is bought all along the stretch. */
  readonly buys?: readonly Pick<PurchaseLine, "id" | "name" | "packs" | "bulkKg">[];
}

/** The answer of `sweep`, and its JSON. */
export interface Sweep {
  readonly schema: "barrowmix.sweep/2";
  readonly plan: string;
  readonly currency: string;
  readonly units: "us" | "metric";
  /** What the totals are of: purchases in whole packs with delivery, or mixes by weight. */
  readonly by: By;
  /** `price feather-meal`, `need N`, `cap P2O5`, `sure N`. */
  readonly what: string;
  /** Its parts: what is varied, and the id or the nutrient it is of (of sureness also several: `N,S`). */
  readonly kind: "price" | "need" | "cap" | "sure";
  readonly of: string;
  /** The same in words. */
  readonly name: string;
  /** Of every value: money per kg, kg for the whole bed, or share of seasons. */
  readonly unit: string;
  /** What was asked for, in a sentence. */
  readonly understood: string;
  /** What the plan itself says, in the same unit; null where it says nothing. */
  readonly today: number | null;
  /** Where any mix is feasible (by purchase: the first and the last such step); null: nowhere in the range. */
  readonly feasible: { readonly from: number; readonly to: number } | null;
  /** Demands that cannot all be kept at the lower and at the upper end of the range; empty where a mix fits there. */
  readonly conflicts: { readonly from: readonly string[]; readonly to: readonly string[] };
  readonly points: readonly SweepPoint[];
  /** Exact, by weight and of a price; of another sweep by purchase and of sureness there are none: known at the steps alone. */
  readonly breakpoints: readonly Breakpoint[];
  readonly segments: readonly SweepSegment[];
  /** Only by purchase: steps that buy the same, together. */
  readonly runs?: readonly SweepRun[];
  readonly verification: {
    readonly points: number;
    /** How many were solved again. */
    readonly solved: number;
    readonly maxViolation: number;
    readonly maxGap: number;
  };
  /** Names of the ids in the mixes. */
  readonly names: Readonly<Record<string, string>>;
}
