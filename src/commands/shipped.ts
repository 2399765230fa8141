/** The amendments that ship with the program, for proposals where a plan's own do not suffice. */
import { resolve } from "node:path";
import type { Amendment } from "../model.ts";
import type { Context } from "./command.ts";
import { where } from "./plan-options.ts";

/** Every shipped amendment, by id; empty where the list is not there. */
export async function shippedAmendments(context: Context): Promise<readonly Amendment[]> {
  const { loadAmendments } = await import("../files/load.ts");
  const at = where(context);
  const loaded = loadAmendments(context.files, resolve(at.recipesDir, "amendments", "all.yaml"), at);
  return loaded.ok ? loaded.value.amendments : [];
}

/** The names of the shipped recipes of a kind, without their ending. */
export function shippedNames(context: Context, room: "crops" | "amendments"): string[] {
  return context.world.files
    .list(resolve(where(context).recipesDir, room))
    .filter((name) => name.endsWith(YAML))
    .map((name) => name.slice(0, -YAML.length));
}
const YAML = ".yaml";
