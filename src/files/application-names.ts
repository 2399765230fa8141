/** Applications that a plan names elsewhere, as in `not_in`. */
import type { Application } from "../model.ts";
import { nearest } from "../problem.ts";
import type { Cursor } from "./context.ts";

/** Where the applications named at `at` are in the plan's list, rising; unknown names are reported. */
export function indicesOf(
  at: Cursor,
  names: readonly string[],
  applications: readonly Application[],
): number[] {
  const known = applications.map(({ name }) => name);
  const indices = names.map((name, i) => {
    const index = known.indexOf(name);
    if (index < 0)
      at.item(i).complain({
        code: "application-unknown",
        wrong: `no application is called \`${name}\``,
        near: nearest(name, known),
        hint: `there are ${known.map((n) => `\`${n}\``).join(", ")}`,
      });
    return index;
  });
  return [...new Set(indices)].filter((index) => index >= 0).sort((a, b) => a - b);
}
