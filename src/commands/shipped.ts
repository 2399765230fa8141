/** What ships with the program: amendments, also for proposals where a plan's own do not suffice, and crops. */
import { resolve } from "node:path";
import type { LoadedAmendments, LoadedTarget } from "../files/load.ts";
import type { Amendment } from "../model.ts";
import type { Result } from "../problem.ts";
import { type Context, unwrap } from "./command.ts";
import { where } from "./plan-options.ts";

/** The shipped amendments, with where their figures come from. */
export async function loadShipped(context: Context): Promise<Result<LoadedAmendments>> {
  const { loadAmendments } = await import("../files/load.ts");
  const at = where(context);
  return loadAmendments(context.files, resolve(at.recipesDir, "amendments", "all.yaml"), at);
}

/** Every shipped amendment, by id; empty where the list is not there. */
export async function shippedAmendments(context: Context): Promise<readonly Amendment[]> {
  const loaded = await loadShipped(context);
  return loaded.ok ? loaded.value.amendments : [];
}

/** A shipped crop. */
export interface ShippedCrop {
  /** Name of its recipe. */
  readonly recipe: string;
  readonly target: LoadedTarget["target"];
}

/** Every shipped crop, by name. */
export async function shippedCrops(context: Context): Promise<readonly ShippedCrop[]> {
  const { loadTarget } = await import("../files/load.ts");
  const at = where(context);
  return shippedNames(context, "crops").map((recipe) => {
    const file = resolve(at.recipesDir, "crops", `${recipe}.yaml`);
    return { recipe, target: unwrap(loadTarget(context.files, file, at)).target };
  });
}

/** The names of the shipped recipes of a kind, without their ending. */
export function shippedNames(context: Context, room: "crops" | "amendments"): string[] {
  return context.world.files
    .list(resolve(where(context).recipesDir, room))
    .filter((name) => name.endsWith(YAML))
    .map((name) => name.slice(0, -YAML.length));
}
const YAML = ".yaml";
