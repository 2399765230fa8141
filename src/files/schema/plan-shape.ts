/** What a plan is in JSON. The build puts in place of this file what it makes from the types (`scripts/model-shape.mjs`). */
import type { Shapes } from "./shape.ts";

export function planShapes(): Shapes {
  throw new Error("the shape of a plan is made by the build");
}
