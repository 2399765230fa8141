/** Plans small enough to be worked out by hand. */
import type { Plan } from "../../src/model.ts";
import { loadTree } from "./load-tree.ts";

export interface HandAmendment {
  /** In percent. */
  readonly analysis: Record<string, number>;
  /** Per kg, in packs of 10 kg. */
  readonly price: number;
  readonly stock?: string;
  readonly release?: unknown;
  readonly density?: string;
}

/** Metric, season of 100 days, everything available at once unless an amendment says otherwise. */
export function handPlan(
  amendments: Record<string, HandAmendment>,
  target: Record<string, unknown>,
  more: Record<string, unknown> = {},
): Plan {
  return loadTree({
    plan: "By hand",
    units: "metric",
    amendments: Object.fromEntries(
      Object.entries(amendments).map(([id, { price, ...one }]) => [
        id,
        { release: "at-once", packs: [{ size: "10 kg", price: price === 0 ? "free" : 10 * price }], ...one },
      ]),
    ),
    target: { target: "Test crop", season: "100 days", ...target },
    bed: { plants: 100 },
    ...more,
  });
}
