import { defineConfig } from "vitest/config";
import { planShapeForTests } from "./scripts/model-shape.mjs";

// Big oracles share a machine with whatever else runs on it; a test says itself where it must end sooner.
// Test files share a process (`isolate: false`), which saves reading the program a hundred times: no test may leave
// anything changed behind it.
/** In `npm test` a group may hold long tests alone, which it leaves to the short check (tests/helpers/seeds.ts). */
const passWithNoTests = process.env.BARROWMIX_SEEDS === undefined;

export default defineConfig({
  plugins: [planShapeForTests],
  test: { testTimeout: 30_000, isolate: false, maxWorkers: "100%", passWithNoTests },
});
