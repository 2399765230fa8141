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
  readonly type?: "object" | "array" | "string" | "number" | "boolean" | "null";
  readonly const?: string;
  readonly enum?: readonly string[];
  readonly anyOf?: readonly Shape[];
  readonly properties?: Readonly<Record<string, Shape>>;
  readonly required?: readonly string[];
  readonly additionalProperties?: Shape | boolean;
  /** Of each item, or of the first, the second, and so on. */
  readonly items?: Shape | readonly Shape[];
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
} as const;

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
    const words = shape.enum ?? (shape.const === undefined ? undefined : [shape.const]);
    const expected =
      rule?.expected ?? (words === undefined ? WORDS[shape.type ?? "object"] : `one of ${listed(words)}`);
    return { shape, rule, expected };
  }

  #hasShape(value: unknown, shape: Shape, path: Path, rule: Rule | undefined, expected: string): boolean {
    const wrong = (): false => this.#refuse(wrongType(value, path, expected));
    const words = shape.enum ?? (shape.const === undefined ? undefined : [shape.const]);
    if (words !== undefined && typeof value === "string")
      return words.includes(value) || this.#refuse({ ...notAmong(value, words), path });
    if (shape.anyOf !== undefined) return this.#isEither(value, shape.anyOf, path, wrong);
    if (shape.type === "array")
      return Array.isArray(value) ? this.#items(value, shape, path, wrong) : wrong();
    if (shape.type === "object") return isRecord(value) ? this.#keys(value, shape, path, rule) : wrong();
    const isNumber = typeof value === "number" && Number.isFinite(value);
    return (
      (shape.type === "number" ? isNumber : typeof value === shape.type && words === undefined) || wrong()
    );
  }

  #refuse(fault: Parameters<Complain>[0]): false {
    this.complain(fault);
    return false;
  }

  #items(list: readonly unknown[], { items }: Shape, path: Path, wrong: () => false): boolean {
    const each = Array.isArray(items) ? (items as readonly Shape[]) : list.map(() => items as Shape);
    if (each.length !== list.length) return wrong();
    return allOf(each.map((shape, i) => this.fits(list[i], shape, [...path, i])));
  }

  #keys(map: Readonly<Record<string, unknown>>, shape: Shape, path: Path, rule: Rule | undefined): boolean {
    const { properties = {}, required = [], additionalProperties: others } = shape;
    const known = Object.entries(properties).map(([key, inside]) => {
      const value = Object.hasOwn(map, key) ? map[key] : undefined;
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
    if (value === null && shapes.some(({ type }) => type === "null")) return true;
    const maps = shapes.filter(({ type }) => type !== "null");
    if (maps.length === 1) return this.fits(value, maps[0]!, path);
    if (!isRecord(value)) return wrong();
    const [first] = maps;
    const key = Object.entries(first!.properties ?? {}).find(([, one]) => one.const !== undefined)?.[0];
    if (key === undefined) {
      const meant = maps.find(({ required = [] }) => required.every((name) => value[name] !== undefined));
      return meant === undefined ? wrong() : this.fits(value, meant, path);
    }
    const meant = maps.find(({ properties }) => properties![key]!.const === value[key]);
    if (meant !== undefined) return this.fits(value, meant, path);
    const kinds = maps.map(({ properties }) => properties![key]!.const!);
    return this.fits(value[key], { type: "string", enum: kinds }, [...path, key]);
  }
}

/** Whether all hold, each having been looked at. */
const allOf = (held: readonly boolean[]): boolean => held.every(Boolean);
