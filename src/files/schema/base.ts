/**
 * What every schema is made of: how a fault is reported from inside one, how a value is read further, maps with known keys.
 *
 * Quantities become SI numbers right in the schemas, so that a fault carries the path of its value. Schemas are built when
 * first needed and kept, since a run needs only a few of them. The same shapes give the JSON Schemas for editors.
 * The files of this folder are the only door to the zod package.
 */
import * as z from "zod/mini";
import { type Reading, soundAdvice } from "../../numerals.ts";
import type { FileFault } from "../codes.ts";

// Compiling validators pays off after thousands of parses; a run makes a few.
z.config({ jitless: true });

export type Ctx = z.core.ParsePayload<unknown>;
export type Schema<T = unknown> = z.core.$ZodType<T>;
export type Shape = Readonly<Record<string, Schema>>;
/** What a shape gives: a key that is not required may be absent (or wrong, and reported), and is never undefined. */
export type Read<S extends Shape, R extends keyof S = never> = { readonly [K in R]: z.output<S[K]> } & {
  readonly [K in Exclude<keyof S, R>]?: z.output<S[K]>;
};

export const lazy = <T>(make: () => T): (() => T) => {
  let made: T | undefined;
  return () => {
    made ??= make();
    return made;
  };
};

/** Reports a fault from inside a transform; its path leads on from the value that is read. */
export function report(ctx: Ctx, fault: FileFault): void {
  ctx.issues.push({ code: "custom", input: undefined, path: [...(fault.path ?? [])], params: { fault } });
}

/** What may be wrong with a value: each fault, or false where it is not so. */
export type Faults = readonly (FileFault | false)[];

export function reportAll(ctx: Ctx, faults: Faults): void {
  for (const fault of faults) if (fault) report(ctx, fault);
}

/** A schema that is built only when a file has its key, or for JSON Schema. */
export const later = <S extends Schema>(make: () => S) => z.lazy(make);

/** A schema whose value is read further by a function, which may report faults. */
export const read = <S extends Schema, T>(schema: S, reader: (input: z.output<S>, ctx: Ctx) => T) =>
  z.pipe(
    schema,
    z.transform<z.output<S>, T>(reader as (input: z.output<S>, ctx: Ctx) => T),
  ) as unknown as z.core.$ZodType<T, z.input<S>>;

const textOrNumber = lazy(() => [z.string(), z.number()] as const);

/** Text or a number, which a transform then reads; `expected` completes "... is needed here". */
export const written = (expected: string) => z.union(textOrNumber(), { error: expected });

/** What was read, or else its fault is reported. */
export function taken<T>(reading: Reading<T>, ctx: Ctx): T {
  if (reading.ok) return reading.value;
  report(ctx, reading);
  return z.NEVER;
}

/** A schema whose value is held to more, and given on as it is. */
export const held = <T>(schema: Schema<T>, faultsOf: (value: T) => Faults): Schema<T> =>
  read(schema, (value, ctx) => {
    reportAll(ctx, faultsOf(value));
    return value;
  });

/**
 * Text or a number, read by a parser.
 * @param faultsOf what is wrong with a value that the parser takes.
 */
export const parsed = <T>(
  expected: string,
  parse: (input: string | number) => Reading<T>,
  faultsOf: (value: T, input: string | number) => Faults = () => [],
) =>
  read(written(expected), (input, ctx): T => {
    const reading = parse(input);
    const takes = (text: string): boolean => {
      const other = parse(text);
      return other.ok && faultsOf(other.value, text).every((fault) => fault === false);
    };
    const sound = <F extends FileFault>(fault: F): F => soundAdvice(fault, takes, `${expected} is needed`);
    if (!reading.ok) return taken(sound(reading), ctx);
    reportAll(
      ctx,
      faultsOf(reading.value, input).map((fault) => fault && sound(fault)),
    );
    return reading.value;
  });

const quoted = (words: readonly string[], joint: string): string => words.map((w) => `\`${w}\``).join(joint);
export const listed = (words: readonly string[]): string => quoted(words, ", ");

/**
 * A map with these keys only, each of which may be absent but for the required ones. Issues of zod have no field for the keys
 * that are known: where an issue found others, they are its message.
 */
export const bareMap = <S extends Shape, R extends keyof S = never>(
  shape: S,
  expected: string,
  required: readonly R[] = [],
) =>
  z.strictObject(optionalBut(shape, required), {
    error: ({ code }) => (code === "unrecognized_keys" ? Object.keys(shape).join(" ") : expected),
  }) as unknown as Schema<Read<S, R>>;

/** A map with these keys only and remarks, each of which may be absent but for the required ones. */
export const map = <S extends Shape, R extends keyof S = never>(
  shape: S,
  expected: string,
  required: readonly R[] = [],
) => bareMap({ ...shape, ...remarks() }, expected, required);

/** The schemas of a shape, those of keys that are not required as optional ones. */
export const optionalBut = (shape: Shape, required: readonly PropertyKey[]): Shape =>
  Object.fromEntries(
    Object.entries(shape).map(([key, schema]) => [
      key,
      required.includes(key) ? schema : mayBeAbsent(schema),
    ]),
  );

const mayBeAbsent = (schema: Schema): Schema =>
  schema instanceof z.ZodMiniOptional ? schema : z.optional(schema);

/** What the keys of a map ask of each other; each with what would be right. */
export interface Ties {
  /** One of these is given. */
  readonly some?: readonly [keys: readonly string[], hint: string];
  /** A key, and those that it needs one of beside it. */
  readonly needs?: readonly (readonly [key: string, others: readonly string[], hint: string])[];
  /** A key, and those that it is not given together with. */
  readonly excludes?: readonly (readonly [key: string, others: readonly string[], hint?: string])[];
}

/** @param given whether a key is there. */
export const untied = (
  { some, needs = [], excludes = [] }: Ties,
  given: (key: string) => boolean,
): Faults => [
  some !== undefined &&
    !some[0].some(given) && {
      code: "key-missing",
      wrong: `neither ${quoted(some[0], " nor ")} is given`,
      hint: some[1],
    },
  ...needs.map(
    ([key, others, hint]): Faults[number] =>
      given(key) &&
      !others.some(given) && {
        code: "key-missing",
        path: [key],
        at: "key",
        given: key,
        wrong: `is given without ${quoted(others, " or ")}`,
        hint,
      },
  ),
  ...excludes.map(([key, others, hint = "keep one of the two"]): Faults[number] => {
    const other = given(key) ? others.find(given) : undefined;
    const wrong = `is given together with \`${other}\``;
    return other !== undefined && { code: "key-conflict", path: [other], at: "key", given: key, wrong, hint };
  }),
];

/** A map whose keys are held to what they ask of each other. */
export const tied = <T extends object>(schema: Schema<T>, ties: Ties): Schema<T> =>
  held(schema, (value) => untied(ties, (key) => Object.hasOwn(value, key)));

/** A map with some keys that are known, and of the file's own all others, each of which has a value of one kind. */
export const openMap = <S extends Shape, T>(shape: S, rest: Schema<T>, expected: string) =>
  read(
    z.catchall(z.object(optionalBut(shape, []), { error: expected }), rest as z.core.$ZodType),
    (input) => {
      const isKnown = ([key]: readonly [string, unknown]): boolean => Object.hasOwn(shape, key);
      const entries = Object.entries(input);
      return {
        known: Object.fromEntries(entries.filter(isKnown)) as Read<S>,
        others: Object.fromEntries(entries.filter((entry) => !isKnown(entry))) as Readonly<Record<string, T>>,
      };
    },
  );

/** A map with keys of the file's own. */
export const freeMap = <T>(value: Schema<T>, expected: string) =>
  z.record(z.string(), value, { error: expected });

export const list = <T>(item: Schema<T>, expected: string) => z.array(item, { error: expected });

/** Notes for people, allowed beside the data and never read by the program. */
export const remarks = lazy(() => {
  const remark = z.union([z.string(), z.array(z.string())], { error: "text" });
  return { note: remark, source: remark, sources: remark };
});
