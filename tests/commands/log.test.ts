/** `log`: lines are written whole or not at all, and nothing else in the file changes. */
import { spawn } from "node:child_process";
import {
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import fc from "fast-check";
import { afterAll, describe, expect, it } from "vitest";
import { main } from "../../src/cli.ts";
import { LOG_GRAMMAR, withLines } from "../../src/files/season-log.ts";
import { SEASON_HEAD, seasonText, TERRACES } from "../helpers/season.ts";
import { seeds, slow } from "../helpers/seeds.ts";
import { ROOT, testWorld } from "../helpers/world.ts";

const folders: string[] = [];
afterAll(() => {
  for (const folder of folders) rmSync(folder, { recursive: true });
});

/** A folder with the example's plan and a season of its own. */
function shed(
  text = seasonText(["day: 2027-08-01, spread: planting  # on time".replace("  # on time", "")]),
) {
  const folder = mkdtempSync(join(tmpdir(), "barrowmix-season-"));
  folders.push(folder);
  for (const name of ["plan.yaml", "amendments.yaml", "target.yaml"])
    symlinkSync(join(TERRACES, name), join(folder, name));
  writeFileSync(join(folder, "season.yaml"), text);
  const file = () => readFileSync(join(folder, "season.yaml"), "utf8");
  return {
    folder,
    file,
    log: async (said: string, ...flags: string[]) => {
      const before = file();
      const world = testWorld({ cwd: folder });
      const code = await main(["log", "season.yaml", said, ...flags], world);
      const after = file();
      expect(after.startsWith(before), "what was there stays").toBe(true);
      return { code, added: after.slice(before.length), ...world.written };
    },
  };
}

describe("a line that is said", () => {
  const said: readonly [string, string][] = [
    ["2027-09-10 rain 2.5 in", "{day: 2027-09-10, rain: 2.5 in}"],
    [
      "Sep 10 rain 2.5 in evaporation 0.5 in note it came down the gully by night",
      "{day: 2027-09-10, rain: 2.5 in, evaporation: 0.5 in, note: it came down the gully by night}",
    ],
    ["day 40 water 1 in", "{day: 2027-09-10, water: 1 in}"],
    [
      "2027-07-20 bought feather-meal 1 x 50 lb paid 43.50 from grower-coop lot F-0720",
      "{day: 2027-07-20, bought: feather-meal, packs: 1 x 50 lb, paid: 43.50, supplier: grower-coop, lot: F-0720}",
    ],
    ["2027-07-20 bought langbeinite 12 kg", "{day: 2027-07-20, bought: langbeinite, weight: 12 kg}"],
    [
      "2027-07-20 bought all",
      "{day: 2027-07-20, bought: feather-meal, packs: 1 x 50 lb, supplier: grower-coop, paid: 43.50}",
    ],
    [
      "2027-08-24 spread three weeks part 70% by maria note ran out",
      "{day: 2027-08-24, spread: three weeks, part: 70%, who: maria, note: ran out}",
    ],
    ["2027-08-26 spread 1/2 batch A", "{day: 2027-08-26, spread: {A: 1/2 batch}}"],
    [
      "2027-08-30 spread 6 lb feather-meal lot F-0720 placement band",
      "{day: 2027-08-30, spread: {feather-meal: 6 lb}, lots: {feather-meal: F-0720}, placement: band}",
    ],
    [
      "2027-08-30 spread 6 lb feather-meal and 10 g a plant kelp-meal bed Kestrel Bank terraces",
      "{day: 2027-08-30, spread: {feather-meal: 6 lb, kelp-meal: 10 g a plant}, bed: Kestrel Bank terraces}",
    ],
    [
      "2027-08-24 spread 6 lb feather-meal, 1/2 batch A round three weeks checked yes",
      '{day: 2027-08-24, spread: {feather-meal: 6 lb, A: 1/2 batch}, round: three weeks, checked: "yes"}',
    ],
    [
      "2027-09-19 nitrate 14 ppm depth 12 in test strip",
      "{day: 2027-09-19, soil_nitrate: 14 ppm, depth: 12 in, test: strip, as: NO3-N}",
    ],
    [
      "2027-09-19 nitrate 62 ppm depth 12 in as NO3",
      "{day: 2027-09-19, soil_nitrate: 62 ppm, depth: 12 in, as: NO3}",
    ],
    ["2027-09-19 left 12 lb feather-meal", "{day: 2027-09-19, left: {feather-meal: 12 lb}}"],
    ["2027-09-20 kept 1/4 batch A", "{day: 2027-09-20, kept: {A: 1/4 batch}}"],
    [
      "2027-09-20 void 1 2027-08-01 because it rained: nobody went",
      '{day: 2027-09-20, void: {line: 1, day: 2027-08-01}, because: "it rained: nobody went"}',
    ],
    ["2027-09-20 tissue N 4.1 in the leaf", "{day: 2027-09-20, tissue: N 4.1 in the leaf}"],
  ];
  it.each(said)("%s", async (words, line) => {
    const { code, added, stderr } = await shed().log(words);
    expect(stderr).toBe("");
    expect(code).toBe(0);
    expect(added).toBe(`  - ${line}\n`);
  });

  it("is of a kind that help shows, each of them here", async () => {
    const kinds = new Set(
      said.map(([words]) => words.split(" ").find((word) => Object.hasOwn(LOG_GRAMMAR, word))),
    );
    expect([...kinds].sort()).toEqual(Object.keys(LOG_GRAMMAR).sort());
  });

  const refused: readonly [string, RegExp][] = [
    ["rain 2.5 in", /this does not begin with a day/],
    ["2027-09-10", /nothing follows the day.*\n {2}after the day comes one of/],
    ["2027-09-10 rian 2.5 in", /`rian` is no kind of line.*\n {2}did you mean `rain`\?/],
    ["2027-09-10 rain", /this is not how a line of `rain` is said.*\n {2}rain 2.5 in \[evaporation 0.5 in\]/],
    ["2027-09-10 rain 2.5", /season\.yaml:12:.*no unit/],
    ["2027-09-10 rain 90 in", /`90 in` is too much/],
    ["2025-09-10 rain 1 in", /is 690 days before planting/],
    ["2027-09-10 nitrate 14 ppm", /without the depth/],
    ["2027-09-10 spread 6 lb blud-meal", /neither a mix of this season nor a material/],
    ["2027-09-10 void 1 2027-08-02", /line 1 of the log is of 2027-08-01, not of 2027-08-02/],
    ["2027-09-10 rain 1 in evaporation 0.1 in evaporation 0.2 in", /`evaporation` is said twice/],
  ];
  it.each(refused)("is refused whole: %s", async (words, text) => {
    const { code, added, stderr } = await shed().log(words);
    expect(stderr).toMatch(text);
    expect(code).toBe(2);
    expect(added).toBe("");
  });

  it("warns where the line is odd, and writes it", async () => {
    const { code, added, stdout } = await shed().log("2027-08-03 spread planting");
    expect(code).toBe(0);
    expect(added).not.toBe("");
    expect(stdout.replace(/\s+/g, " ")).toContain("both are counted");
  });

  it("buys nothing twice by `bought all`", async () => {
    const { log } = shed();
    expect((await log("2027-07-20 bought all")).code).toBe(0);
    const again = await log("2027-07-21 bought all");
    expect([again.code, again.added]).toEqual([2, ""]);
    expect(again.stderr).toContain("all of `to_buy` is in the log already");
  });
});

describe("the file", () => {
  const line = ["- {day: 1, rain: 1 in}"];
  const texts: readonly [string, string, string | null][] = [
    ["without a log", "season: p.yaml\n", "season: p.yaml\nlog:\n  - {day: 1, rain: 1 in}\n"],
    [
      "without a last line break",
      "season: p.yaml\nlog:\n  - {day: 0, water: 1 in}",
      "season: p.yaml\nlog:\n  - {day: 0, water: 1 in}\n  - {day: 1, rain: 1 in}\n",
    ],
    [
      "with lines as an editor indents them",
      "log:\n- day: 0\n  water: 1 in\n# done\n",
      "log:\n- day: 0\n  water: 1 in\n# done\n- {day: 1, rain: 1 in}\n",
    ],
    [
      "with an empty list",
      "season: p.yaml\nlog: [] # none yet\n",
      "season: p.yaml\nlog: # none yet\n  - {day: 1, rain: 1 in}\n",
    ],
    [
      "with line breaks of Windows",
      "season: p.yaml\r\nlog:\r\n",
      "season: p.yaml\r\nlog:\r\n  - {day: 1, rain: 1 in}\r\n",
    ],
    ["with something after the log", "log:\n  - {day: 0, water: 1 in}\nshed: {}\n", null],
    ["with a log in brackets", "log: [{day: 0, water: 1 in}]\n", null],
  ];
  it.each(texts)("%s", (_, before, after) => {
    expect(withLines(before, line)).toBe(after);
  });

  it("is left alone where a line would not go into the log", async () => {
    const text = `${seasonText(["day: 1, rain: 1 in"])}batches: {A: 4}\n`.replace(
      "batches: {A: 4}\nshed",
      "shed",
    );
    const { code, added, stderr } = await shed(text).log("2027-09-10 rain 1 in");
    expect([code, added]).toEqual([2, ""]);
    expect(stderr).toContain("`log` is the last key");
  });

  it("keeps every comment and every byte, whatever is logged", async () => {
    const { log, file } = shed(
      `# ours\n${SEASON_HEAD.replace("log:", "log: # what happened")}  # nothing yet\n`,
    );
    await fc.assert(
      fc.asyncProperty(
        fc.integer({ min: 0, max: 90 }),
        fc.constantFrom("rain 1 in", "spread planting part 10%", "left 1 lb gypsum", "water 5 mm"),
        fc.stringMatching(/^[ -~]{1,30}$/).filter((note) => /\S/.test(note)),
        async (day, what, note) => {
          const { code, added } = await log(`day ${day} ${what} note ${note}`);
          expect(code).toBe(0);
          expect(added.split("\n")).toHaveLength(2);
        },
      ),
      { numRuns: 9, seed: 5 },
    );
    expect(file().startsWith("# ours\n")).toBe(true);
  });
});

describe("several runs at once", () => {
  const run = (folder: string, said: string) =>
    spawn(process.execPath, [join(ROOT, "bin/barrowmix.cjs"), "log", "season.yaml", said], {
      cwd: folder,
      stdio: "ignore",
    });

  const RUNS = seeds(5, 12);
  slow("lose nothing", { timeout: 120_000 }, async () => {
    const { folder, file } = shed();
    const done = Array.from(
      { length: RUNS },
      (_, k) =>
        new Promise<number | null>((resolve) =>
          run(folder, `day ${k} rain 0.${k + 1} in`).on("exit", resolve),
        ),
    );
    expect(await Promise.all(done)).toEqual(Array(RUNS).fill(0));
    const rains = file()
      .split("\n")
      .filter((text) => text.includes("rain"));
    expect(rains).toHaveLength(RUNS);
    expect(new Set(rains).size).toBe(RUNS);
    expect(readdirSync(folder).filter((name) => name.startsWith(".barrowmix"))).toEqual([]);
  });

  slow("tear nothing when they are killed", { timeout: 120_000 }, async () => {
    const { folder, file, log } = shed();
    const before = file();
    for (let k = 0; k < 12; k += seeds(3, 1)) {
      const child = run(folder, `day ${k} rain 0.${k + 1} in`);
      const ended = new Promise((resolve) => child.on("exit", resolve));
      setTimeout(() => child.kill("SIGKILL"), 60 + 45 * k);
      await ended;
      const text = file();
      expect(text.startsWith(before)).toBe(true);
      for (const added of text
        .slice(before.length)
        .split("\n")
        .filter((one) => one !== ""))
        expect(added).toMatch(/^ {2}- \{day: 2027-08-\d\d, rain: 0\.\d+ in\}$/);
    }
    expect((await log("day 80 water 1 in")).code).toBe(0);
    mkdirSync(join(folder, "seen"));
    expect(readdirSync(folder).filter((name) => name.endsWith(".lock"))).toEqual([]);
  });
});
