/** The door of the library: arguments are held to their types, since programs in JavaScript may give anything. */
import { planFaults } from "./files/load.ts";
import { ruleOf } from "./files/schema/figures.ts";
import { wrongType } from "./files/schema/read.ts";
import { Fitting, type Rule, type Rules, type Shape, type Shapes } from "./files/schema/shape.ts";
import { outOfBounds } from "./files/schema/values.ts";
import { InputError } from "./library.ts";
import { formatProblems, type Problem, pathText, problemOf } from "./problem.ts";
import { isUnitId } from "./units.ts";

/** What says how something is done: a key that it does not have is a slip. */
const CLOSED = /(Options|Request|Rules|Change)$/;

/** A plan is held to its own shape and rules; elsewhere text may have lines, and numbers may be as small as they come. */
const OWN: ReadonlyMap<string, Rule> = new Map<string, Rule>([
  ["Plan", { faultsOf: planFaults }],
  ["UnitId", { faultsOf: (id: string) => [!isUnitId(id) && noUnit(id)] }],
  ["Columns", { faultsOf: (width: number) => [outOfBounds("columns", width, { least: 40, whole: true })] }],
  ["Map", { faultsOf: (value: unknown) => [!(value instanceof Map) && wrongType(value, [], "a Map")] }],
  ["string", {}],
  ["number", {}],
]);

const rules: Rules = (named) => {
  // `Mix#1f3a9c02`: one of several types of that name.
  const type = named?.replace(/#.*/, "");
  const own = OWN.get(type?.replace(/<.*/, "") ?? "");
  if (own !== undefined) return own;
  return ruleOf(type) ?? (type !== undefined && CLOSED.test(type) ? { closed: true } : undefined);
};

const noUnit = (given: string) =>
  ({
    code: "unit-unknown",
    given,
    wrong: "is not a unit",
    hint: "give an id of `UNITS`, or two with a slash: `lb`, `lb/acre`",
  }) as const;

const isAsync = (call: unknown): boolean => Object.prototype.toString.call(call) === "[object AsyncFunction]";

/**
 * A function whose arguments are looked over first.
 * @param name as the library exports it.
 * @param shape of a map from the parameters' names, in their order, to the arguments.
 * @returns the same function; it throws (or rejects with) an `InputError` that names each fault.
 */
export function guarded<A extends readonly unknown[], R>(
  call: (...args: A) => R,
  name: string,
  shape: Shape,
  shapes: Shapes,
): (...args: A) => R {
  const look = (args: A): void => {
    const problems: Problem[] = [];
    const fitting = new Fitting(shapes, rules, ({ path = [], ...fault }) => {
      problems.push(problemOf(fault, { path, about: `${name}: ${pathText(path)}` }));
    });
    try {
      fitting.fits(
        Object.fromEntries(Object.keys(shape.properties!).map((key, i) => [key, args[i]])),
        shape,
        [],
      );
    } catch (cause) {
      throw new InputError(`${name}: an argument cannot be read through`, [], { cause });
    }
    if (problems.length > 0) throw new InputError(formatProblems(problems).trimEnd(), problems);
  };
  if (isAsync(call))
    return (async (...args: A) => {
      look(args);
      return await call(...args);
    }) as (...args: A) => R;
  return (...args) => {
    look(args);
    try {
      return call(...args);
    } catch (cause) {
      // Of results that are put together by hand, types hold and references do not.
      if (!(cause instanceof TypeError || cause instanceof RangeError)) throw cause;
      throw new InputError(`${name}: the arguments do not go together: ${cause.message}`, [], { cause });
    }
  };
}
