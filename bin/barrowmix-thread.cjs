/** A thread of the program, started by it for its share of many files. */
"use strict";
const path = require("node:path");

const root = path.join(__dirname, "..");
require("node:module").enableCompileCache?.();
require(path.join(root, "dist", "barrowmix.cjs")).startThread(root);
