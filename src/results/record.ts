/** The result of `record`, and its JSON (schema barrowmix.record/1): what was spread and bought, for whoever inspects it. */
import type { OrganicStatus, Placement } from "../model.ts";

/** One material that one bed got on one day, or one purchase. What the season does not say, or has no place in it, is null. */
export interface RecordRow {
  readonly what: "spread" | "bought";
  readonly date: string;
  readonly bed: string | null;
  readonly areaM2: number | null;
  readonly crop: string | null;
  readonly id: string;
  readonly material: string;
  readonly brand: string | null;
  readonly lot: string | null;
  readonly supplier: string | null;
  readonly packs: { readonly count: number; readonly sizeKg: number } | null;
  readonly kg: number;
  readonly kgPerM2: number | null;
  readonly method: Placement | null;
  readonly who: string | null;
  readonly address: string | null;
  readonly organic: OrganicStatus;
  /** For the whole line. */
  readonly paid: number | null;
  readonly note: string | null;
  /** Line of the season file. */
  readonly line: number;
}

export interface RecordResult {
  readonly schema: "barrowmix.record/1";
  readonly season: string;
  readonly planted: string;
  readonly currency: string;
  readonly units: "us" | "metric";
  /** What was spread, by day. */
  readonly rows: readonly RecordRow[];
  /** Of each material, by bed and calendar year. */
  readonly sums: readonly {
    readonly bed: string;
    readonly year: string;
    readonly id: string;
    readonly material: string;
    readonly kg: number;
  }[];
  /** What was bought, by day. */
  readonly purchases: readonly RecordRow[];
  /** What else the log says, and what was taken back, as it is written there. */
  readonly others: readonly {
    readonly date: string;
    readonly text: string;
    /** Taken back, and why; null: it counts. */
    readonly void: string | null;
    readonly line: number;
  }[];
  /** What an inspector will ask for and the season does not say, in sentences. */
  readonly missing: readonly string[];
}
