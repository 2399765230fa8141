#!/usr/bin/env node
"use strict";
// Starts the built program. `npm run build` makes it, together with V8's compiled code, which spares most of the
// time to start; where that does not fit this Node, it is quietly left aside.
const fs = require("node:fs");
const path = require("node:path");
const vm = require("node:vm");

// Two settings of V8 that suit a run of a fraction of a second. It begins to optimise a loop after a few passes, on
// threads that then compete with the run itself: put off a little. And it doubles the space for new objects each time
// that fills: kept small, a third less memory is touched for the first time, which is slow. Longer runs gain as well
// (bench). Both flags are those of the V8 of Node 20; elsewhere the defaults stay.
if (process.versions.v8.startsWith("11.3.")) {
  // What `node:v8` would do, without the streams that it loads for its heap snapshots: a twentieth of a run.
  const { noDeprecation } = process;
  process.noDeprecation = true;
  const { setFlagsFromString } = process.binding("v8");
  process.noDeprecation = noDeprecation;
  setFlagsFromString("--interrupt-budget=2000000");
  setFlagsFromString("--semi-space-growth-factor=1");
}

/**
 * Loads the bundle, which the build has wrapped in a function as Node wraps a CommonJS file.
 * Gives its exports, and the script, of which the build takes the compiled code.
 */
function load(filename) {
  const sizes = [filename, `${filename}.cache`].map(
    (name) => fs.statSync(name, { throwIfNoEntry: false })?.size ?? 0,
  );
  // One buffer for both files, one after the other: memory touched for the first time is slow.
  const buffer = Buffer.allocUnsafeSlow(Math.max(...sizes));
  const read = (name) => {
    const fd = fs.openSync(name, "r");
    try {
      let end = 0;
      for (let count = 1; count > 0; end += count)
        count = fs.readSync(fd, buffer, end, buffer.length - end, end);
      return end;
    } finally {
      fs.closeSync(fd);
    }
  };
  const source = buffer.latin1Slice(0, read(filename));
  let cachedData;
  try {
    cachedData = buffer.subarray(0, read(`${filename}.cache`));
  } catch {
    // Without compiled code it starts slower, and no worse.
  }
  const script = new vm.Script(source, { filename, cachedData });
  const module = { exports: {} };
  script.runInThisContext()(module.exports, require, module, filename, path.dirname(filename));
  return { exports: module.exports, script };
}

module.exports = { load };

if (require.main === module) {
  const root = path.join(__dirname, "..");
  const args = process.argv.slice(2);
  // Some commands have a bundle of their own, with less to read than the whole program.
  const own = /^[a-z]+$/.test(args[0] ?? "") ? path.join(root, "dist", `${args[0]}.cjs`) : "";
  const whole = path.join(root, "dist", "barrowmix.cjs");
  const bundle = [own, whole].find((file) => file !== "" && fs.existsSync(file));
  if (bundle) {
    const { main, nodeWorld } = load(bundle).exports;
    const world = nodeWorld(root, (fd) => require("node:tty").isatty(fd));
    main(args, world).then((code) => {
      // All output is written by now; going at once spares taking the heap apart.
      process.exit(code);
    });
  } else {
    console.error("barrowmix: the program has not been built yet; run `npm install` in its folder.");
    process.exitCode = 1;
  }
}
