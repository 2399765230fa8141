/**
 * `npm run check [-- name [numbers]]`: the slow proofs, which are no part of `npm test`. Each prints what it counted; the
 * exit code is 1 where one of them found something wrong.
 *
 *   npm run check                   all of them (minutes to half an hour)
 *   npm run check -- sweeps 50 200  one of them, here 50 sweeps of 200 steps
 */
import fs from "node:fs";
import path from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";
import { build } from "esbuild";
import { planShape } from "./model-shape.mjs";

const root = path.join(path.dirname(fileURLToPath(import.meta.url)), "..");
const print = (line) => console.log(line);

/** Each proof: its module, what it proves, and how it is called. It throws, or gives a code other than 0, where one fails. */
const CHECKS = {
  bags: {
    module: "tests/helpers/check-bags.ts",
    about: "whole-pack purchases of random plans against a separately written model: count, seconds each",
    run: ({ checkBags }, [count = 300, seconds = 10]) => checkBags(count, seconds, print),
  },
  sweeps: {
    module: "tests/check/sweeps.ts",
    about: "random sweeps against exact solutions of each point: count, steps each",
    run: ({ checkSweeps }, numbers) => checkSweeps(print, ...numbers),
  },
  sure: {
    module: "tests/check/sure.ts",
    about: "mixes made sure of a need against drawn seasons: count, seasons each",
    run: ({ checkSure }, [count = 200, draws = 100_000]) => checkSure(count, draws, print),
  },
  fuzz: {
    module: "tests/check/fuzz.ts",
    about: "mutated files, pipes and flags: no crash, no stack, no hang: count",
    run: ({ checkFuzz }, numbers) => checkFuzz(print, ...numbers),
  },
};

const [name, ...numbers] = process.argv.slice(2);
const known = Object.entries(CHECKS).filter(([, { module }]) => fs.existsSync(path.join(root, module)));
const chosen = known.filter(([key]) => name === undefined || key === name);
if (chosen.length === 0 || numbers.some((text) => !/^\d+$/.test(text))) {
  console.error("usage: npm run check [-- name [numbers]], where name is one of");
  for (const [key, { about }] of known) console.error(`  ${key.padEnd(8)} ${about}`);
  process.exitCode = 2;
} else
  for (const [key, { module, about, run }] of chosen) {
    print(`== ${key}: ${about}`);
    const outfile = path.join(root, "node_modules/.cache/barrowmix", `check-${key}.mjs`);
    await build({
      absWorkingDir: root,
      entryPoints: [module],
      outfile,
      bundle: true,
      platform: "node",
      target: "node20",
      format: "esm",
      packages: "external",
      plugins: [planShape],
      logLevel: "warning",
    });
    const begun = performance.now();
    try {
      const code = await run(await import(pathToFileURL(outfile).href), numbers.map(Number));
      if (typeof code === "number" && code !== 0) process.exitCode = 1;
    } catch (error) {
      print(`FAILED: ${error instanceof Error ? error.message : String(error)}`);
      process.exitCode = 1;
    } finally {
      fs.rmSync(outfile, { force: true });
    }
    print(`== ${key}: ${Math.round((performance.now() - begun) / 1000)} s`);
  }
