/** Season files: what they are read as, and every slip of a log said with its line. */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { materialsOf } from "../../src/files/season-model.ts";
import { faultsOf, readSeasonText, SEASON_HEAD, seasonOf, seasonText } from "../helpers/season.ts";
import { slow } from "../helpers/seeds.ts";

const LB = 0.45359237;

describe("a season", () => {
  it("is read with its plan, planted when the season says", () => {
    const season = seasonOf([]);
    expect(season.beds.map(({ name, planted }) => [name, planted])).toEqual([
      ["Kestrel Bank terraces", "2027-08-01"],
    ]);
    expect(season.mixes[0]!.heapKg).toBeCloseTo(192.2 * LB, 9);
    expect(season.planned.map(({ round, day, gives }) => [round, day, gives.A! / LB])).toEqual([
      ["planting", 0, expect.closeTo(0.4 * 192.2, 9)],
      ["three weeks", 21, expect.closeTo(0.35 * 192.2, 9)],
      ["heads forming", 50, expect.closeTo(0.25 * 192.2, 9)],
    ]);
    expect(season.shed["kelp-meal"]).toBeCloseTo(18 * LB, 9);
  });

  it("takes rounds as they were planned, with what a bed gets alone", () => {
    const planned =
      "planned:\n  - {bed: Kestrel Bank terraces, round: first, day: 2027-08-03, A: 1 1/2 batches, kelp-meal: 4 lb}\n";
    const season = seasonOf(["day: 2, spread: first"], SEASON_HEAD.replace("log:\n", `${planned}log:\n`));
    const [first] = season.planned;
    expect([first!.day, first!.gives.A! / LB, first!.gives["kelp-meal"]! / LB]).toEqual([
      2,
      expect.closeTo((1.5 * 192.2) / 4, 9),
      expect.closeTo(4, 9),
    ]);
    const [line] = season.log;
    expect(line).toMatchObject({ kind: "spread", round: "first" });
  });

  it("counts a part of a round, batches, weights and measures a plant", () => {
    const season = seasonOf([
      "day: 2027-08-24, spread: three weeks, part: 70%",
      "day: 2027-08-26, spread: {A: 1/2 batch}",
      "day: 2027-08-30, spread: {feather-meal: 6 lb}, placement: band, lots: {feather-meal: F-1}",
      "day: 2027-09-01, spread: {feather-meal: 10 g a plant}",
      "day: 2027-09-02, spread: {gypsum: 1 quart}",
    ]);
    const kg = season.log.map((line) =>
      line.kind === "spread" ? materialsOf(line.beds[0]!.gives, season.mixes)["feather-meal"] : undefined,
    );
    expect(kg[0]! / LB).toBeCloseTo(0.7 * 0.35 * 43.2, 9);
    expect(kg[1]! / LB).toBeCloseTo(43.2 / 8, 9);
    expect(kg[2]! / LB).toBeCloseTo(6, 9);
    expect(kg[3]).toBeCloseTo(0.01 * 960, 9);
    // A US quart is 0.946352946 L by definition; gypsum of the example weighs 0.92 kg/L.
    expect(season.log[4]).toMatchObject({
      beds: [{ gives: { gypsum: expect.closeTo(0.92 * 0.946352946, 9) } }],
    });
  });

  it("turns a reading of nitrate into its nitrogen, by atomic weights", () => {
    const [n, no3] = seasonOf([
      "day: 40, soil_nitrate: 14 ppm, depth: 12 in, as: NO3-N",
      "day: 41, soil_nitrate: 62.0 mg/kg, depth: 30 cm, as: NO3",
    ]).log;
    expect(n).toMatchObject({ kind: "nitrate", ppm: 14, depthM: expect.closeTo(0.3048, 9) });
    // NO3 62.005, N 14.007: the standard atomic weights.
    expect(no3).toMatchObject({ ppm: expect.closeTo((62 * 14.007) / 62.005, 1) });
  });

  it("leaves out what a later line takes back, counted in the file's order", () => {
    const season = seasonOf([
      "day: 2027-09-10, rain: 1 in",
      "day: 2027-08-01, spread: planting",
      "day: 2027-08-02, spread: planting",
      "day: 2027-08-03, void: {line: 3, day: 2027-08-02}, because: written twice",
    ]);
    expect(season.log.map(({ number, kind }) => [number, kind])).toEqual([
      [2, "spread"],
      [1, "rain"],
    ]);
    expect(season.warnings.map(({ code }) => code)).toEqual(["log-sorted"]);
  });
});

describe("slips in a season", () => {
  const cases: readonly [string, readonly string[], string][] = [
    [
      "an unknown bed",
      ["day: 1, rain: 1 in, bed: Kestrl Bank terraces"],
      "11: `Kestrl Bank terraces` is no bed of this season; did you mean `Kestrel Bank terraces`?",
    ],
    [
      "an unknown material",
      ["day: 1, spread: {blud-meal: 1 lb}"],
      "11: `blud-meal` is neither a mix of this season nor a material of its plan;",
    ],
    [
      "an unknown purchase",
      ["day: 1, bought: fether-meal, packs: 1 x 50 lb"],
      "11: no amendments file defines `fether-meal`; did you mean `feather-meal`?",
    ],
    [
      "an unknown round",
      ["day: 1, spread: third week"],
      "11: no planned round is called `third week`; the rounds are",
    ],
    [
      "a material where a round belongs",
      ["day: 1, spread: gypsum"],
      "11: no planned round is called `gypsum`; say how much of it: `spread: {gypsum: 6 lb}`",
    ],
    [
      "a year too early",
      ["day: 2026-06-01, spread: planting"],
      "11: `2026-06-01` is 426 days before planting (2027-08-01); check the year",
    ],
    [
      "a date that is none",
      ["day: 2027-09-31, spread: planting"],
      "11: `2027-09-31` is not a date; write `2027-06-03`",
    ],
    ["rain in the wrong unit", ["day: 40, rain: 25 m"], "11: `25 m` is too much; at most `80 in`"],
    [
      "ppm without depth",
      ["day: 40, soil_nitrate: 14 ppm"],
      "11: a reading in ppm without the depth of the sample does not say how much nitrogen there is; add `depth: 12 in`",
    ],
    [
      "a reading without unit",
      ["day: 40, soil_nitrate: 14, depth: 12 in"],
      "11: `14` is no reading in ppm; write the reading with its unit: `14 ppm`, which is the same as `14 mg/kg`",
    ],
    [
      "a void of another day",
      ["day: 1, rain: 1 in", "day: 3, void: {line: 1, day: 2027-08-03}"],
      "12: line 1 of the log is of 2027-08-02, not of 2027-08-03; nothing is taken back;",
    ],
    [
      "a void of no line",
      ["day: 1, void: {line: 7, day: 1}"],
      "11: `7` is no line of the log; count the lines of the log in the file's order: 1 to 1",
    ],
    [
      "batches of a material",
      ["day: 1, spread: {gypsum: 1 batch}"],
      "11: `gypsum` is a material, and only a mix is made in batches; give a weight, for instance `6 lb`",
    ],
    [
      "two things in a line",
      ["day: 1, rain: 1 in, water: 1 in"],
      "11: a line is of one thing, and this one says `rain` and `water`; write a line for each",
    ],
    ["nothing in a line", ["day: 1, note: sunny"], "11: this line does not say what happened; add one of"],
    [
      "a key of another kind",
      ["day: 1, rain: 1 in, depth: 12 in"],
      "11: the key `depth` means nothing here; keys accepted here: rain, evaporation, day, bed, who",
    ],
    [
      "a purchase without an amount",
      ["day: 1, bought: gypsum"],
      "11: this does not say how much was bought; write `packs: 1 x 50 lb`",
    ],
  ];
  it.each(cases)("%s", (_, lines, said) => {
    const faults = faultsOf(lines);
    expect(faults).toHaveLength(1);
    expect(faults[0]!.startsWith(said), faults[0]).toBe(true);
  });

  it("are all said at once", () => {
    expect(
      faultsOf(["day: 1, spread: {blud-meal: 1 lb}", "day: x, rain: 1 in", "day: 40, rain: 99 in"]).map(
        (one) => one.slice(0, 2),
      ),
    ).toEqual(["11", "12", "13"]);
  });

  it("says that neither the season nor its plan was planted", () => {
    expect(faultsOf(["day: 1, rain: 1 in"], SEASON_HEAD.replace("planted: 2027-08-01\n", ""))[0]).toContain(
      "neither the season nor its plan says when the crop was planted",
    );
  });

  const remarks: readonly [string, readonly string[], RegExp][] = [
    [
      "round-twice",
      ["day: 0, spread: planting", "day: 2, spread: planting"],
      /on line 1 of the log \(line 11 of the file\) and on line 2 of the log \(line 12 of the file\): both are counted.*`void: \{line: 2, day: 2027-08-03\}`/,
    ],
    [
      "log-sorted",
      ["day: 5, rain: 1 in", "day: 0, spread: planting"],
      /Line 2 of the log \(line 12 of the file\) is earlier/,
    ],
    [
      "spread-before-planting",
      ["day: -9, spread: planting"],
      /Line 1 of the log \(line 11 of the file\) spreads 9 days before planting/,
    ],
    [
      "spread-large",
      ["day: 0, spread: {feather-meal: 180 lb}"],
      /Line 1 of the log .* spreads ten times what any planned round does/,
    ],
    ["nitrate-as", ["day: 9, soil_nitrate: 14 ppm, depth: 12 in"], /Line 1 of the log .* does not say.*4.43/],
    ["rain-large", ["day: 9, rain: 40 in"], /Line 1 of the log .* more than 12 in .*Is the unit right\?/],
    [
      "nitrate-large",
      ["day: 9, soil_nitrate: 300 ppm, depth: 12 in, as: NO3-N"],
      /over 100 ppm NO3-N\)\. Is it NO3 \(`as: NO3`\)/,
    ],
  ];
  it.each(remarks)("counts and says: %s", (code, lines, text) => {
    const { warnings } = seasonOf(lines);
    expect(warnings.map((one) => one.code)).toEqual([code]);
    expect(warnings[0]!.text).toMatch(text);
  });

  it("asks no more about what was checked", () => {
    for (const [code, lines] of remarks.filter(([one]) => /large|twice/.test(one))) {
      const checked = lines.map((line) => `${line}, checked: yes`);
      expect(seasonOf(checked).warnings, code).toEqual([]);
    }
    // 300 ppm of NO3 is 68 ppm of NO3-N, which a fat soil may hold.
    expect(seasonOf(["day: 9, soil_nitrate: 300 ppm, depth: 12 in, as: NO3"]).warnings).toEqual([]);
    expect(seasonOf(["day: 9, rain: 11.9 in"]).warnings).toEqual([]);
  });

  it("says nothing of a spreading just below ten times the plan", () => {
    // The largest planned round holds 0.4 x 43.2 lb of feather meal, and weighs 76.9 lb in all.
    expect(seasonOf(["day: 0, spread: {feather-meal: 172 lb}"]).warnings).toEqual([]);
  });

  slow("end in a value or in problems with a place, whatever is written", () => {
    const words = [
      "day: 3",
      "spread: planting",
      "spread: {A: 1/2 batch}",
      "rain: 2 in",
      "bed: x",
      "depth: 12 in",
      "soil_nitrate: 3 ppm",
      "void: {line: 1, day: 3}",
      "left: {gypsum: 1 lb}",
      "part: 50%",
      "kept: {A: 1 lb}",
      "note: [",
      "who: 3",
      "bought: gypsum",
      "weight: 3 kg",
    ];
    fc.assert(
      fc.property(
        fc.array(fc.uniqueArray(fc.constantFrom(...words), { maxLength: 4 }), { maxLength: 5 }),
        (lines) => {
          const read = readSeasonText(seasonText(lines.map((line) => line.join(", "))));
          if (read.ok) expect(read.value.season.log.length).toBeLessThanOrEqual(lines.length);
          else for (const { place, code } of read.problems) expect(place?.line, code).toBeGreaterThan(0);
        },
      ),
      { numRuns: 150, seed: 24 },
    );
  });
});
