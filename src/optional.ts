/** Optional fields of objects, where `exactOptionalPropertyTypes` tells an absent field from an undefined one. */

/** An object whose fields that may be undefined are optional instead. */
export type Defined<T> = { readonly [K in keyof T as undefined extends T[K] ? never : K]: T[K] } & {
  readonly [K in keyof T as undefined extends T[K] ? K : never]?: Exclude<T[K], undefined>;
};

/** The object without the fields that are undefined. */
export function defined<T extends object>(fields: T): Defined<T> {
  return Object.fromEntries(Object.entries(fields).filter(([, value]) => value !== undefined)) as Defined<T>;
}
