#!/usr/bin/env node
"use strict";
const fs = require("node:fs");
const path = require("node:path");

/**
 * What tells V8 to optimise code later, by major version of Node: most runs end before it is worth it. An option that
 * V8 does not know is complained of, so versions that were not measured are left alone.
 */
const OPTIMISE_LATER = {
  20: "--interrupt-budget=600000",
  22: "--invocation-count-for-maglev=4000 --invocation-count-for-turbofan=20000",
  24: "--invocation-count-for-maglev=4000 --invocation-count-for-turbofan=20000",
};

const root = path.join(__dirname, "..");
const program = path.join(root, "dist", "barrowmix.cjs");
if (fs.existsSync(program)) {
  const options = OPTIMISE_LATER[process.versions.node.split(".")[0]];
  if (options) require("node:v8").setFlagsFromString(options);
  // Node 22 and later keep what they compiled for the next run, in the folder for temporary files.
  require("node:module").enableCompileCache?.();
  require(program).start(root);
} else {
  console.error("barrowmix: the program has not been built yet; run `npm run build` in its folder.");
  process.exitCode = 1;
}
