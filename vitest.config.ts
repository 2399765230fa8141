import { defineConfig } from "vitest/config";
import { planShapeForTests } from "./scripts/model-shape.mjs";

// Big oracles share a machine with whatever else runs on it; a test says itself where it must end sooner.
export default defineConfig({ plugins: [planShapeForTests], test: { testTimeout: 30_000 } });
