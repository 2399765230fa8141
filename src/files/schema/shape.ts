/**
 * JSON held to a shape that is made from types: the part of JSON Schema that they come to. What a type may be beside its
 * shape is said by rules under its name. Keys that the shape does not have pass unread, since later versions may write more.
 */
import type { Path } from "../../problem.ts";
import { isRecord } from "../source.ts";
import { type Faults, listed } from "./base.ts";
import { type Complain, notAmong, protoKey, unknownKey, wrongType } from "./read.ts";

/** One type: the name of another (`$ref`), or what it is made of. */
export interface Shape {
  readonly $ref?: string;
  /** Absent: anything. */
  readonly type?: "object" | "array" | "string" | "number" | "boolean" | "null" | "function";
  readonly const?: string;
  readonly enum?: readonly (string | number)[];
  readonly anyOf?: readonly Shape[];
  readonly properties?: Readonly<Record<string, Shape>>;
  readonly required?: readonly string[];
  readonly additionalProperties?: Shape | boolean;
  /** Of each item, or of the first, the second, and so on. */
  readonly items?: Shape | readonly Shape[];
  /** How many items there are at least. */
  readonly minItems?: number;
}

/** Shapes by the names of their types. */
export type Shapes = Readonly<Record<string, Shape>>;

/** What is asked of a type beside its shape. */
export interface Rule {
  /** Completes "... is needed here". */
  readonly expected?: string;
  /** No keys beside those of the shape. */
  readonly closed?: boolean;
  // biome-ignore lint/suspicious/noExplicitAny: the shape has been checked; each rule says what it takes
  readonly faultsOf?: (value: any) => Faults;
}
/** What is asked of the values of a type, by its name; undefined: nothing beside their shape. */
export type Rules = (type: string | undefined) => Rule | undefined;

const WORDS = {
  object: "a map",
  array: "a list",
  string: "text",
  number: "a number",
  boolean: "true or false",
  null: "nothing",
  function: "a function",
} as const;

const wordsOf = (shape: Shape | undefined): readonly (string | number)[] | undefined =>
  shape?.enum ?? (shape?.const === undefined ? undefined : [shape.const]);

/** Holds values to shapes and rules, and complains of what does not fit. */
export class Fitting {
  constructor(
    private readonly shapes: Shapes,
    private readonly rules: Rules,
    private readonly complain: Complain,
  ) {}

  /** Whether a value is as its shape says; what is not has been complained of. */
  fits(value: unknown, named: Shape, path: Path): boolean {
    const { shape, rule, expected } = this.#meant(named);
    if (!this.#hasShape(value, shape, path, rule, expected)) return false;
    const faults = (rule?.faultsOf?.(value) ?? []).filter((fault) => fault !== false);
    for (const fault of faults) this.complain({ ...fault, path: [...path, ...(fault.path ?? [])] });
    return faults.length === 0;
  }

  /** What a shape stands for, with what is asked of it by its name: the first, where types are named after others. */
  #meant(named: Shape): {
    readonly shape: Shape;
    readonly rule: Rule | undefined;
    readonly expected: string;
  } {
    let shape = named;
    while (shape.$ref !== undefined) shape = this.shapes[shape.$ref]!;
    const rule = this.rules(named.$ref ?? shape.type);
    const words = wordsOf(shape);
    const expected =
      rule?.expected ??
      (words === undefined ? WORDS[shape.type ?? "object"] : `one of ${listed(words.map(String))}`);
    return { shape, rule, expected };
  }

  #hasShape(value: unknown, shape: Shape, path: Path, rule: Rule | undefined, expected: string): boolean {
    const wrong = (): false => this.#refuse(wrongType(value, path, expected));
    const words = wordsOf(shape);
    if (words?.includes(value as string)) return true;
    if (words !== undefined)
      return typeof value === "string"
        ? this.#refuse({ ...notAmong(value, words.map(String)), path })
        : wrong();
    if (shape.anyOf !== undefined) return this.#isEither(value, shape.anyOf, path, wrong);
    if (shape.type === undefined) return true;
    if (shape.type === "array")
      return Array.isArray(value) ? this.#items(value, shape, path, wrong) : wrong();
    if (shape.type === "object") return isRecord(value) ? this.#keys(value, shape, path, rule) : wrong();
    const isType = typeof value === shape.type && (typeof value !== "number" || Number.isFinite(value));
    return isType || wrong();
  }

  #refuse(fault: Parameters<Complain>[0]): false {
    this.complain(fault);
    return false;
  }

  #items(list: readonly unknown[], shape: Shape, path: Path, wrong: () => false): boolean {
    const { items, minItems = 0 } = shape;
    if (list.length < minItems) return wrong();
    const each = Array.isArray(items) ? (items as readonly Shape[]) : list.map(() => items as Shape);
    if (each.length !== list.length) return wrong();
    return allOf(each.map((shape, i) => this.fits(list[i], shape, [...path, i])));
  }

  #keys(map: Readonly<Record<string, unknown>>, shape: Shape, path: Path, rule: Rule | undefined): boolean {
    const { properties = {}, required = [], additionalProperties: others } = shape;
    const known = Object.entries(properties).map(([key, inside]) => {
      const value = map[key];
      if (value !== undefined) return this.fits(value, inside, [...path, key]);
      return (
        !required.includes(key) ||
        this.#refuse(wrongType(value, [...path, key], this.#meant(inside).expected))
      );
    });
    const more = Object.keys(map).filter((key) => !Object.hasOwn(properties, key));
    const unknown = more.map((key) => {
      if (rule?.closed) return this.#refuse(unknownKey(map, path, key, Object.keys(properties)));
      if (typeof others !== "object") return true;
      return key === "__proto__"
        ? this.#refuse(protoKey([...path, key]))
        : this.fits(map[key], others, [...path, key]);
    });
    return allOf([...known, ...unknown]);
  }

  /** One of several shapes: of maps that which has the same constant, or else that whose keys are there. */
  #isEither(value: unknown, shapes: readonly Shape[], path: Path, wrong: () => false): boolean {
    const single = this.#single(shapes);
    if (value === null && single.some(({ type }) => type === "null")) return true;
    const alone = single.filter(({ type }) => type !== "null");
    if (alone.length === 1) return this.fits(value, alone[0]!, path);
    const kind = Array.isArray(value) ? "array" : typeof value;
    const alike = alone.filter((named) => this.#meant(named).shape.type === kind);
    if (alike.length < 2) return alike.length === 1 ? this.fits(value, alike[0]!, path) : wrong();
    if (!isRecord(value)) return wrong();
    const maps = alike.map((named) => this.#meant(named).shape);
    const key = Object.entries(maps[0]!.properties ?? {}).find(([, one]) => wordsOf(one) !== undefined)?.[0];
    if (key === undefined) {
      const at = maps.findIndex(({ required = [] }) => required.every((name) => value[name] !== undefined));
      return at < 0 ? wrong() : this.fits(value, alike[at]!, path);
    }
    const kinds = maps.map(({ properties }) => wordsOf(properties?.[key]) ?? []);
    const meant = alike.find((_, i) => kinds[i]!.includes(value[key] as string));
    if (meant !== undefined) return this.fits(value, meant, path);
    return this.fits(value[key], { type: "string", enum: kinds.flat() }, [...path, key]);
  }

  /** Shapes with those of which some consist of several in their place. */
  #single(shapes: readonly Shape[]): readonly Shape[] {
    return shapes.flatMap((named) => {
      const { anyOf } = this.#meant(named).shape;
      return anyOf === undefined ? [named] : this.#single(anyOf);
    });
  }
}

const allOf = (held: readonly boolean[]): boolean => held.every(Boolean);
