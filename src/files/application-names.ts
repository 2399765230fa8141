/** Applications that a plan names elsewhere, as in `not_in`. */
import type { Application } from "../model.ts";
import { nearest } from "../problem.ts";
import { complain, type Loading } from "./context.ts";
import { type Path, type Tree, valueAt } from "./source.ts";

/**
 * Where the named applications are in the plan's list, rising; unknown names are reported at `path`.
 * @param applications undefined where they could not be read: nothing is looked for then.
 */
export function indicesOf(
  loading: Loading,
  own: Tree,
  path: Path,
  names: readonly string[],
  applications: readonly Application[] | undefined,
): number[] {
  if (applications === undefined) return [];
  const listed = Array.isArray(valueAt(own.root, path));
  const indices = new Set<number>();
  for (const [i, name] of names.entries()) {
    const index = applications.findIndex((a) => a.name === name);
    if (index >= 0) {
      indices.add(index);
      continue;
    }
    const known = applications.map((a) => a.name);
    const near = nearest(name, known);
    complain(loading, own, {
      code: "application-unknown",
      path: listed ? [...path, i] : path,
      wrong: `no application is called \`${name}\``,
      near,
      hint: `there are ${known.map((n) => `\`${n}\``).join(", ")}`,
    });
  }
  return [...indices].sort((a, b) => a - b);
}
