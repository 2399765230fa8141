/**
 * A report is data: sections of paragraphs, lists and tables with typed cells. Commands make it, renderers
 * (terminal, CSV, Markdown, HTML) turn it into text; digits and unit names are chosen in `numbers.ts` alone.
 */

/** A cell: text, a number already formatted with its unit in the header, or blank. `raw` keeps the exact number for CSV. */
export interface Cell {
  readonly text: string;
  readonly raw?: number;
  readonly tone?: Tone;
}
export type Tone = "plain" | "strong" | "good" | "bad" | "faint";

export interface TableColumn {
  readonly head: string;
  readonly align: "left" | "right";
  /** Header for CSV: snake_case with the unit, for instance `weight_lb`. */
  readonly csv: string;
}

export interface Table {
  readonly columns: readonly TableColumn[];
  readonly rows: readonly (readonly Cell[])[];
  /** Printed below a rule, as a last row. */
  readonly total?: readonly Cell[];
}

export type Block =
  | { readonly kind: "text"; readonly text: string; readonly tone?: Tone }
  | { readonly kind: "list"; readonly items: readonly string[]; readonly tone?: Tone }
  | {
      readonly kind: "table";
      readonly table: Table /** the one table `--format csv` prints, if marked */;
      readonly main?: boolean;
    };

export interface Section {
  readonly title: string;
  readonly blocks: readonly Block[];
}

export interface Report {
  readonly title: string;
  readonly sections: readonly Section[];
}
