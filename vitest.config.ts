import { defineConfig } from "vitest/config";

// Big oracles share a machine with whatever else runs on it; a test says itself where it must end sooner.
export default defineConfig({ test: { testTimeout: 30_000 } });
