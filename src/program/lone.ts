/**
 * What a bed gets beside its mix: one material alone, straight from its bag, any amount in any round. It counts towards every
 * need, cap and limit of weight, and towards no share of the mix.
 */
import type { Amendment, Plan } from "../model.ts";
import type { Season } from "../season/season.ts";
import { doubtKey, layOutSpread } from "../season/spread.ts";
import type { Row } from "../solver/program.ts";
import { type BlendProgram, buildProgram } from "./build.ts";
import type { MixBed } from "./shared-mix.ts";
import { type PlanSureRow, sureRows } from "./sure-rows.ts";
import type { RowTag } from "./tags.ts";

/** kg of one of the farm's amendments, by round of the bed. */
export interface Lone {
  readonly amendment: number;
  readonly kg: readonly number[];
}

/** What one kg brings, by amendment of the farm and round. */
export type Brings = readonly (readonly number[])[];

/** What a kg that a bed gets alone brings to each row that it asks of a mix. */
export interface LoneEffects {
  /** By row of the bed's program; null for one that is of the mix or of the shed. */
  readonly program: readonly (Brings | null)[];
  /** By row that is asked of a mix; null for one that is of the mix. */
  readonly rows: readonly (Brings | null)[];
  /** By margin: to its row, and to each of its factors; factors beyond those of the mix are of what is given alone. */
  readonly cones: readonly { readonly row: Brings; readonly factors: readonly Brings[] }[];
  /** By amendment of the farm and round: whether the bed may get it then. */
  readonly may: readonly (readonly boolean[])[];
}

interface LoneBed {
  readonly plan: Plan;
  readonly season: Season;
  /** The bed's program, with one blend. */
  readonly base: BlendProgram;
  readonly sure: readonly PlanSureRow[];
}

/** Rows that are of the mix or of the shed, whatever is given beside it. */
const NOT_COUNTED = ["share-min", "share-max", "not-in", "stock"];
const counts = ({ tag }: Row<RowTag>): boolean => !NOT_COUNTED.includes(tag.kind);

/**
 * @param amendments of the farm.
 * @returns in the order of the bed's program and of what `mixBed` makes of it.
 */
export function loneEffects(bed: LoneBed, amendments: readonly Amendment[]): LoneEffects {
  const { plan, season, base, sure } = bed;
  const spread = layOutSpread(plan, season);
  const marginOf = new Map(sure.map(({ nutrient, z }) => [nutrient, z]));
  const place = new Map(amendments.map(({ id }, a) => [id, a]));
  // A plan with all of its mix in one round tells what a kg brings then.
  const rounds = plan.applications.map((_, t) => {
    const applications = plan.applications.map((one, i) => ({ ...one, share: i === t ? 1 : 0 }));
    const limits = plan.limits.map(({ minShare: _, maxShare: __, ...limit }) => ({ ...limit, notIn: [] }));
    const then = { ...plan, applications, limits };
    const program = buildProgram(then, season);
    const margins = sureRows(then, spread, program, (nutrient) => marginOf.get(nutrient) ?? 0);
    const at = new Map(program.use.map(([j], a) => [j!, place.get(plan.amendments[a]!.id)!]));
    return { rows: program.rows.filter(counts), margins, at };
  });
  type Terms = { readonly index: readonly number[]; readonly value: readonly number[] } | undefined;
  const brings = (of: (t: number) => Terms, sign = 1): Brings => {
    const table = amendments.map(() => rounds.map(() => 0));
    rounds.forEach(({ at }, t) => {
      const terms = of(t);
      terms?.index.forEach((j, k) => {
        table[at.get(j)!]![t] = sign * terms.value[k]!;
      });
    });
    return table;
  };
  let counted = 0;
  const program = base.rows.map((row) => {
    if (!counts(row)) return null;
    const i = counted++;
    return brings((t) => rounds[t]!.rows[i]);
  });
  const rows = base.rows.flatMap((row, i) => {
    if (row.tag.kind === "stock") return [];
    const own = program[i]!;
    const less = own?.map((kg) => kg.map((one) => -one)) ?? null;
    return [...(Number.isFinite(row.lower) ? [own] : []), ...(Number.isFinite(row.upper) ? [less] : [])];
  });
  const cones = sure.map(({ row, doubts }, i) => {
    const keys = [
      ...new Set([doubts, ...rounds.map(({ margins }) => margins[i]!.doubts)].flat().map(doubtKey)),
    ];
    const factors = keys.map((key) =>
      brings((t) => {
        const one = rounds[t]!.margins[i]!;
        return one.factors[one.doubts.findIndex((doubt) => doubtKey(doubt) === key)];
      }),
    );
    return { row: program[row]!, factors };
  });
  const barred = new Map(plan.limits.map(({ id, notIn }) => [id, notIn]));
  const own = new Set(plan.amendments.map(({ id }) => id));
  const may = amendments.map(({ id }) =>
    rounds.map((_, t) => own.has(id) && !(barred.get(id) ?? []).includes(t)),
  );
  return { program, rows, cones, may };
}

const brought = (brings: Brings, { amendment, kg }: Lone): number =>
  kg.reduce((sum, one, t) => sum + one * brings[amendment]![t]!, 0);

/** What a bed asks of its mix beside what it gets alone. */
export function besideLone(bed: MixBed, { rows, cones }: LoneEffects, lone: Lone | null): MixBed {
  if (lone === null) return bed;
  return {
    ...bed,
    rows: bed.rows.map((row, i) => {
      const own = rows[i]!;
      return own ? { ...row, bound: row.bound - brought(own, lone) } : row;
    }),
    cones: bed.cones.map((cone, i) => {
      const own = cones[i]!;
      return {
        ...cone,
        row: { ...cone.row, bound: cone.row.bound - brought(own.row, lone) },
        factors: own.factors.map((brings, f) => {
          const { index = [], value = [], constant = 0 } = cone.factors[f] ?? {};
          return { index, value, constant: constant + brought(brings, lone) };
        }),
      };
    }),
  };
}
