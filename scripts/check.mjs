/**
 * `npm run check [-- name [numbers]]`: the slow proofs, which are no part of `npm test`. Each prints what it counted; the
 * exit code is 1 where one of them found something wrong.
 *
 *   npm run check                   all of them (minutes to half an hour)
 *   npm run check -- short          those marked `short`, a few minutes at most: CI runs them after `npm test`
 *   npm run check -- sweeps 50 200  one of them, here 50 sweeps of 200 steps
 */
import { spawnSync } from "node:child_process";
import fs from "node:fs";
import path from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";
import { build } from "esbuild";
import { checkPackage } from "./check-package.mjs";
import { planShape } from "./model-shape.mjs";

const root = path.join(path.dirname(fileURLToPath(import.meta.url)), "..");
const print = (line) => console.log(line);

/** The test files whose lists of random cases are long, drawn by `helper`, with all of those cases. */
function allSeeds(helper, level) {
  const files = fs
    .readdirSync(path.join(root, "tests"), { recursive: true, encoding: "utf8" })
    .filter((file) => file.endsWith(".test.ts"))
    .map((file) => path.join("tests", file))
    .filter((file) => helper.test(fs.readFileSync(path.join(root, file), "utf8")));
  const { status } = spawnSync("npx", ["vitest", "run", ...files], {
    cwd: root,
    env: { ...process.env, BARROWMIX_SEEDS: level },
    stdio: "inherit",
  });
  return status ?? 1;
}

/**
 * Each proof: its module (none where it needs no bundle), what it proves, and how it is called. It throws, or gives a code
 * other than 0, where one fails.
 */
const CHECKS = {
  seeds: {
    about: "all the random cases of which the suite tries a few",
    short: true,
    run: () => allSeeds(/\b(seeds|slow)\b[.(]/, "all"),
  },
  answers: {
    about: "purchases, ties, shared sheds and price sweeps against separately written models (an hour)",
    run: () => allSeeds(/\banswerSeeds\(/, "answers"),
  },
  package: {
    about: "packed and installed: command, manual page, types, bundler, CommonJS, licences",
    short: true,
    run: () => checkPackage(root, print),
  },
  audit: {
    about: "known faults of the packages that are installed beside it (`npm audit`)",
    run: () =>
      spawnSync("npm", ["audit", "--omit=dev", "--audit-level=moderate"], { cwd: root, stdio: "inherit" })
        .status ?? 1,
  },
  bags: {
    module: "tests/helpers/check-bags.ts",
    about: "whole-pack purchases of random plans against a separately written model: count, seconds each",
    run: ({ checkBags }, [count = 300, seconds = 10]) => checkBags(count, seconds, print),
  },
  plans: {
    module: "tests/check/plans.ts",
    about: "hard random plans by weight against a separately written model: count, first seed",
    run: ({ checkPlans }, numbers) => checkPlans(print, ...numbers),
  },
  suites: {
    module: "tests/check/suites.ts",
    about:
      "published and textbook programs: wrong, unproven, time beside HiGHS: count of each kind, seconds each",
    run: ({ checkSuites }, numbers) => checkSuites(print, root, ...numbers),
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
  lists: {
    module: "tests/check/price-lists.ts",
    about: "price lists as spreadsheets write them, drawn at random: count",
    run: ({ checkPriceLists }, [count = 6000]) => {
      const { read, refused } = checkPriceLists(count, 2);
      print(`${read} read as meant, ${refused} refused at the cell that was spoiled`);
    },
  },
  "sure-attack": {
    module: "tests/check/sure-attack.ts",
    about:
      "sureness against a second model: plans under sure, under together, tries of the dense search, first seed, 0 for no crops",
    run: ({ attackSure }, numbers) => attackSure(root, print, ...numbers),
  },
  seasons: {
    module: "tests/check/seasons.ts",
    about:
      "the rest of random seasons against a program written apart: count, drawn seasons each, first season",
    run: ({ checkSeasons }, [count = 200, draws = 100_000, first = 0]) =>
      checkSeasons(count, draws, print, first),
  },
  "season-trial": {
    module: "tests/check/season-trial.ts",
    about: "what a season file is worth on the demo, and eight seasons that go wrong: seasons, draws a case",
    run: ({ checkSeasonTrial }, numbers) => checkSeasonTrial(print, root, ...numbers),
  },
  "log-kills": {
    module: "tests/check/log-kills.ts",
    about: "`log` killed at any moment, and many at once: kills, runs at once (needs a build)",
    run: ({ checkLogKills }, numbers) => checkLogKills(print, root, ...numbers),
  },
  farm: {
    module: "tests/check/farm.ts",
    about: "farms of many beds against a search, all divisions and a whole-number model: count",
    run: ({ checkFarms }, numbers) => checkFarms(print, ...numbers),
  },
  wild: {
    module: "tests/helpers/wild.ts",
    about:
      "wild calls of the library, built before: none ends with an error but an InputError: count of each",
    run: ({ checkWild }, [count = 1500]) => checkWild(root, count, print),
  },
  fuzz: {
    module: "tests/check/fuzz.ts",
    about: "mutated files, pipes and flags: no crash, no stack, no hang: count",
    run: ({ checkFuzz }, numbers) => checkFuzz(print, ...numbers),
  },
};

/** A module of TypeScript, bundled and imported. */
async function load(key, module) {
  if (module === undefined) return {};
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
  try {
    return await import(pathToFileURL(outfile).href);
  } finally {
    fs.rmSync(outfile, { force: true });
  }
}

const [name, ...numbers] = process.argv.slice(2);
const chosen = Object.entries(CHECKS).filter(([key, { short }]) =>
  name === "short" ? short : name === undefined || key === name,
);
if (chosen.length === 0 || numbers.some((text) => !/^\d+$/.test(text))) {
  console.error("usage: npm run check [-- name [numbers]], where name is short or one of");
  for (const [key, { about }] of Object.entries(CHECKS)) console.error(`  ${key.padEnd(13)} ${about}`);
  process.exitCode = 2;
} else
  for (const [key, { module, about, run }] of chosen) {
    print(`== ${key}: ${about}`);
    const begun = performance.now();
    try {
      const code = await run(await load(key, module), numbers.map(Number));
      if (typeof code === "number" && code !== 0) process.exitCode = 1;
    } catch (error) {
      print(`FAILED: ${error instanceof Error ? error.message : String(error)}`);
      process.exitCode = 1;
    }
    print(`== ${key}: ${Math.round((performance.now() - begun) / 1000)} s`);
  }
