/** What of a plan can be moved, and what that moves in its program: prices, needs, caps, limits and stock. */
import type { Demand, Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { interpolateFromZero } from "../season/curve.ts";
import type { Move } from "../solver/parametric.ts";
import type { BlendProgram } from "./build.ts";
import type { RowTag } from "./tags.ts";

/** One number of a plan that an answer depends on. */
export type Handle =
  | { readonly kind: "price"; readonly id: string }
  | { readonly kind: "stock"; readonly id: string }
  | { readonly kind: keyof typeof DEMAND_NUMBERS; readonly nutrient: Nutrient }
  | { readonly kind: keyof typeof LIMITS; readonly id: string };

/** A handle on a demand or a limit. */
export type DemandHandle = Exclude<Handle, { kind: "price" | "stock" }>;

/** Of each kind of handle on a need or cap: its number in a plan; null where the plan does not state it. */
const DEMAND_NUMBERS = {
  need: ({ minKg }: Demand) => (minKg > 0 ? minKg : null),
  "season-max": ({ maxKg }: Demand) => maxKg,
  "applied-max": ({ appliedMaxKg, appliedSoftMaxKg }: Demand) => appliedMaxKg ?? appliedSoftMaxKg ?? null,
  "ahead-max": ({ aheadMaxKg }: Demand) => aheadMaxKg,
};

/** Of each kind of handle on a limit: the kind of its row, and its field in a plan. */
const LIMITS = {
  "min-share": { row: "share-min", field: "minShare" },
  "max-share": { row: "share-max", field: "maxShare" },
  min: { row: "amount-min", field: "minKg" },
  max: { row: "amount-max", field: "maxKg" },
} as const;

/** The number of a plan that a row states; null for a row that states none by itself. */
export function statedBy(tag: RowTag): DemandHandle | null {
  if (tag.kind === "in-time" || tag.kind === "season-min") return { kind: "need", nutrient: tag.nutrient };
  if ("nutrient" in tag) return { kind: tag.kind, nutrient: tag.nutrient };
  const kind = keysOf(LIMITS).find((one) => LIMITS[one].row === tag.kind);
  return kind === undefined || !("id" in tag) ? null : { kind, id: tag.id };
}

const keysOf = Object.keys as <K extends string>(record: Record<K, unknown>) => K[];

/** The columns that carry the price of an amendment: what is bought beyond stock, or all that is used. */
export function priceColumns(plan: Plan, program: BlendProgram, id: string): readonly number[] {
  const a = plan.amendments.findIndex((amendment) => amendment.id === id);
  if (a < 0) return [];
  const bought = program.buy[a] ?? null;
  if (bought !== null) return [bought];
  return plan.amendments[a]!.stockKg > 0 ? [] : program.use[a]!;
}

/** How fast a row's bound rises with the season's need of its nutrient: the share taken up by its day. */
function needRate(demand: Demand | undefined, tag: RowTag): number {
  if (tag.kind === "season-min") return 1;
  if (tag.kind !== "in-time" && tag.kind !== "ahead-max") return 0;
  return demand?.uptake ? interpolateFromZero(demand.uptake, tag.day) : 1;
}

/**
 * The move of a program when one number of its plan rises: a price by 1 per kg, a weight by 1 kg, a share by 1.
 * @param x the point at which a share is looked at; needed for shares alone, whose weight depends on the blend's.
 */
export function moveOf(plan: Plan, program: BlendProgram, handle: Handle, x: readonly number[] = []): Move {
  if (handle.kind === "price") {
    const rate = program.columns.map(() => 0);
    for (const j of priceColumns(plan, program, handle.id)) rate[j] = 1;
    return { kind: "cost", rate };
  }
  const rowRate = (tag: RowTag): number => {
    switch (handle.kind) {
      case "stock":
        return tag.kind === "stock" && tag.id === handle.id ? 1 : 0;
      case "need":
        return "nutrient" in tag && tag.nutrient === handle.nutrient
          ? needRate(
              plan.demands.find((d) => d.nutrient === handle.nutrient),
              tag,
            )
          : 0;
      case "season-max":
      case "applied-max":
      case "ahead-max":
        return tag.kind === handle.kind && tag.nutrient === handle.nutrient ? 1 : 0;
      default: {
        if (tag.kind !== LIMITS[handle.kind].row || tag.id !== handle.id) return 0;
        return handle.kind === "min" || handle.kind === "max" ? 1 : blendKg(program, tag.application, x);
      }
    }
  };
  return { kind: "bounds", rate: program.rows.map((row) => rowRate(row.tag)) };
}

function blendKg(program: BlendProgram, blend: number | null, x: readonly number[]): number {
  const b = program.blends.indexOf(blend);
  return program.use.reduce((sum, columns) => sum + (x[columns[b]!] ?? 0), 0);
}

/** A demand's or limit's number, in kg or as a share; null where the plan does not state it. */
export function numberOf(plan: Plan, handle: Exclude<Handle, { kind: "price" }>): number | null {
  if (handle.kind === "stock")
    return plan.amendments.find((amendment) => amendment.id === handle.id)?.stockKg ?? null;
  if ("nutrient" in handle) {
    const demand = plan.demands.find((d) => d.nutrient === handle.nutrient);
    return demand ? DEMAND_NUMBERS[handle.kind](demand) : null;
  }
  return plan.limits.find((l) => l.id === handle.id)?.[LIMITS[handle.kind].field] ?? null;
}

/** Every demand and limit that a plan states as a number. */
export function demandHandles(plan: Plan): DemandHandle[] {
  const handles: DemandHandle[] = [
    ...plan.demands.flatMap(({ nutrient }) => keysOf(DEMAND_NUMBERS).map((kind) => ({ kind, nutrient }))),
    ...plan.limits.flatMap(({ id }) => keysOf(LIMITS).map((kind) => ({ kind, id }))),
  ];
  return handles.filter((handle) => numberOf(plan, handle) !== null);
}
