#!/usr/bin/env node
"use strict";
// Starts the built program. `npm run build` makes it, together with V8's compiled code, which spares most of the
// time to start; where that does not fit this Node, it is quietly left aside.
const fs = require("node:fs");
const path = require("node:path");
const vm = require("node:vm");

// A short run ends before optimised code pays: V8 begins to optimise after a few passes of a loop, on threads that then
// compete with the run itself. Put off a little, that saves a fifth of the time and of the memory of a cold `solve`, and
// long runs are optimised all the same. The flag is known to the V8 of Node 20; elsewhere the default stays.
if (process.versions.v8.startsWith("11.3."))
  require("node:v8").setFlagsFromString("--interrupt-budget=2000000");

/**
 * Loads the bundle, which the build has wrapped in a function as Node wraps a CommonJS file.
 * Gives its exports, and the script, of which the build takes the compiled code.
 */
function load(filename) {
  const source = fs.readFileSync(filename, "latin1");
  let cachedData;
  try {
    cachedData = fs.readFileSync(`${filename}.cache`);
  } catch {
    // Slower, and no worse.
  }
  const script = new vm.Script(source, { filename, cachedData });
  const module = { exports: {} };
  script.runInThisContext()(module.exports, require, module, filename, path.dirname(filename));
  return { exports: module.exports, script };
}

module.exports = { load };

if (require.main === module) {
  const root = path.join(__dirname, "..");
  const bundle = path.join(root, "dist", "barrowmix.cjs");
  if (fs.existsSync(bundle)) {
    const { main, nodeWorld } = load(bundle).exports;
    const world = nodeWorld(root, (fd) => require("node:tty").isatty(fd));
    main(process.argv.slice(2), world).then((code) => {
      process.exitCode = code;
    });
  } else {
    console.error("barrowmix: the program has not been built yet; run `npm install` in its folder.");
    process.exitCode = 1;
  }
}
