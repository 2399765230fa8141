/** Results of `check`, `list` and `init`, and what is said of a file that has no result: their JSON. */
import type { Notice } from "../problem.ts";

/** What is wrong with a file or a call, with its place spread out. */
export interface ProblemJson {
  /** Stays the same while the words may change. */
  readonly code: string;
  readonly message: string;
  /** What would be right. */
  readonly hint: string | null;
  readonly file: string | null;
  /** From 1. */
  readonly line: number | null;
  /** From 1. */
  readonly column: number | null;
  /** Keys and indices that lead to the value; null where the fault is in none. */
  readonly path: readonly (string | number)[] | null;
}

/** The result of `check`. */
export interface CheckResult {
  readonly schema: "barrowmix.check/1";
  readonly files: readonly {
    readonly file: string;
    /** Null where it could not be told. */
    readonly kind: string | null;
    readonly ok: boolean;
    readonly problems: readonly ProblemJson[];
    readonly warnings: readonly Notice[];
  }[];
}

/** The result of `list`. */
export interface ListResult {
  readonly schema: "barrowmix.list/1";
  /** What was listed: `amendments`, `crops`, ... */
  readonly list: string;
  /** One object for each entry, with the fields of that list. */
  readonly items: readonly object[];
}

/** What a grower answers to `init`; quantities as typed, checked before. */
export interface Answers {
  /** A shipped crop recipe. */
  readonly crop: string;
  readonly units: "us" | "metric";
  readonly currency: string;
  readonly area: string;
  readonly plants?: number | undefined;
  /** Yield to feed for; absent: the recipe's own. */
  readonly yield?: string | undefined;
  /** Of the soil, mean over the season. */
  readonly temperature: string;
  /** How many times the blend is spread. */
  readonly applications: number;
  readonly batch: string;
  /** Ids of shipped amendments, at least one. */
  readonly amendments: readonly string[];
}

/** The result of `init`. */
export interface InitResult {
  readonly schema: "barrowmix.init/1";
  readonly folder: string;
  /** The files that were written. */
  readonly files: readonly string[];
  readonly answers: Answers;
}

/** The result of `init --after`. */
export interface NextYearResult extends Omit<InitResult, "answers"> {
  /** The season that it follows. */
  readonly after: string;
}

/** The result of `log`. */
export interface LogResult {
  readonly schema: "barrowmix.log/1";
  readonly file: string;
  /** The lines that were added, as YAML. */
  readonly lines: readonly string[];
  /** What they made worth saying. */
  readonly remarks: readonly string[];
}

/** What a program reads in place of a result (schema barrowmix.failure/1). */
export interface Failure {
  readonly schema: "barrowmix.failure/1";
  /** Which of several files has none. */
  readonly file?: string;
  readonly status: "error";
  readonly problems: readonly ProblemJson[];
}
