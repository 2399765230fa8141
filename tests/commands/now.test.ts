/** `now`: where a season is and the cheapest rest of it; and the other commands on a season. */
import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { main } from "../../src/cli.ts";
import type { Comparison } from "../../src/results/comparison.ts";
import type { RecordResult } from "../../src/results/record.ts";
import type { SeasonNow } from "../../src/results/season.ts";
import type { Solution } from "../../src/results/solution.ts";
import { SEASON_HEAD, seasonText, TERRACES } from "../helpers/season.ts";
import { slow } from "../helpers/seeds.ts";
import { testWorld } from "../helpers/world.ts";

const folders: string[] = [];
afterAll(() => {
  for (const folder of folders) rmSync(folder, { recursive: true });
});

function garden(lines?: readonly string[], head = SEASON_HEAD) {
  const folder = mkdtempSync(join(tmpdir(), "barrowmix-now-"));
  folders.push(folder);
  cpSync(TERRACES, folder, { recursive: true });
  if (lines) writeFileSync(join(folder, "season.yaml"), seasonText(lines, head));
  const run = async (...args: string[]) => {
    const world = testWorld({ cwd: folder });
    const code = await main(args, world);
    return { code, ...world.written };
  };
  const now = async (...flags: string[]): Promise<SeasonNow> => {
    const { stdout, stderr } = await run("now", "season.yaml", "--json", ...flags);
    if (stdout === "") throw new Error(stderr);
    return JSON.parse(stdout) as SeasonNow;
  };
  return { folder, run, now };
}

const LB = 0.45359237;
const BOUGHT = [
  "day: -12, bought: feather-meal, packs: 1 x 50 lb, paid: 43.50",
  "day: -12, bought: langbeinite, packs: 1 x 50 lb, paid: 39.00",
  "day: -10, bought: turkey-litter-pellets, packs: 3 x 50 lb, paid: 46.50",
];
const shedOf = (now: SeasonNow) => Object.fromEntries(now.shed.map(({ id, kg }) => [id, kg / LB]));

describe("now", () => {
  slow("counts the shed: bought, spread, kept and used first, and what was weighed", async () => {
    const { now } = garden([
      ...BOUGHT,
      "day: 0, spread: planting",
      "day: 1, kept: {A: 1/2 batch}",
      "day: 21, spread: {A: 1 batch}",
      "day: 30, left: {feather-meal: 12 lb}",
    ]);
    // Feather meal: 50 lb less 0.4, 1/8 (kept) and 1/8 (the other half of the batch) of 43.2 lb; then weighed.
    const before = shedOf(await now("--on", "29"));
    expect(before["feather-meal"]).toBeCloseTo(50 - 43.2 * (0.4 + 0.25), 6);
    expect(before.langbeinite).toBeCloseTo(50 - 11.2 * 0.65, 6);
    const after = await now();
    expect(shedOf(after)["feather-meal"]).toBeCloseTo(12, 6);
    expect(after.warnings.map(({ code }) => code)).toContain("left-differs");
    expect(after.kept).toEqual([]);
  });

  slow("says with the line that more was spread than was ever bought", async () => {
    const { now } = garden(["day: 0, spread: planting"]);
    const { warnings, shed } = await now();
    const said = warnings.filter(({ code }) => code === "spread-unbought").map(({ text }) => text);
    expect(said.join(" ")).toMatch(
      /Line 1 of the log .* takes more than there was .* 17\.28 lb of Feather meal/,
    );
    expect(shed.map(({ id }) => id)).toEqual(["kelp-meal", "gypsum"]);
  });

  it("gives a late round on the day asked about, and leaves it out once the next one's day has come", async () => {
    const { now } = garden([...BOUGHT, "day: 0, spread: planting"]);
    const late = await now("--on", "31");
    expect(late.beds[0]!.rounds.map(({ state }) => state)).toEqual(["done", "late", "next"]);
    expect(late.rest!.beds[0]!.rounds.map(({ day }) => day)).toEqual([31, 50]);
    const dropped = await now("--on", "52");
    expect(dropped.beds[0]!.rounds.map(({ state }) => state)).toEqual(["done", "dropped", "late"]);
    expect(dropped.late.some(({ nutrient, day }) => nutrient === "N" && day === 50)).toBe(true);
  });

  slow("says what it costs to do without a material that was spread already, as whatif does", async () => {
    const { run, now } = garden([...BOUGHT, "day: 0, spread: planting"]);
    const { rest } = await now("--exclude", "feather-meal");
    const { stdout } = await run(
      ...["whatif", "season.yaml", "--json", "--case", "none: --exclude feather-meal"],
    );
    const { base, cases } = JSON.parse(stdout) as Comparison;
    expect(cases[0]!.total).toBeCloseTo(rest!.cost.total!, 6);
    expect(cases[0]!.total).toBeGreaterThan(base.total!);
  });

  it("moves nothing that has been spread when prices change", async () => {
    const lines = [
      ...BOUGHT,
      "day: 0, spread: planting",
      "day: 23, spread: three weeks, part: 70%",
      "day: 40, rain: 2 in",
    ];
    const { folder, now } = garden(lines);
    const before = await now();
    const prices = join(folder, "amendments.yaml");
    writeFileSync(
      prices,
      readFileSync(prices, "utf8").replace(
        /price: (\d+)/g,
        (_, whole: string) => `price: ${Number(whole) * 3 + 7}`,
      ),
    );
    const after = await now();
    const fixed = ({ beds, shed, late }: SeasonNow) => ({
      shed,
      late,
      beds: beds.map(({ nutrients, chance, ...bed }) => ({
        ...bed,
        nutrients: nutrients.map(({ newPlanKg: _, ...one }) => one),
        nothing: chance.nothing,
        old: chance.oldPlan,
      })),
    });
    expect(fixed(after)).toEqual(fixed(before));
  });

  it("asks for a sureness, and the rest holds it", async () => {
    const { now } = garden([
      ...BOUGHT,
      "day: 0, spread: planting",
      "day: 23, spread: three weeks, part: 70%",
      "day: 40, rain: 2.5 in",
      "day: 49, soil_nitrate: 5 ppm, depth: 12 in, as: NO3-N",
    ]);
    const { beds, rest, asked } = await now("--sure", "90%");
    expect(asked).toBe(0.9);
    expect(rest!.status).toBe("optimal");
    expect(beds[0]!.chance.newPlan.N).toBeGreaterThanOrEqual(0.8975);
    expect(beds[0]!.chance.newPlan.N).toBeGreaterThan(beds[0]!.chance.oldPlan.N!);
    expect(beds[0]!.measuredKg! / beds[0]!.expectedKg!).toBeGreaterThan(1);
  });

  slow("keeps to few materials that can be weighed, where the plan asks for it", async () => {
    const { folder, now } = garden([...BOUGHT, "day: 0, spread: planting", "day: 23, spread: three weeks"]);
    const plan = join(folder, "plan.yaml");
    writeFileSync(plan, `${readFileSync(plan, "utf8")}simple: {most: 2, least: 1 lb}\n`);
    const { rest } = await now("--on", "30", "--sure", "N=90%");
    expect(rest!.mixes).not.toEqual([]);
    for (const { materials } of rest!.mixes) expect(materials.length).toBeLessThanOrEqual(2);
  });

  it("spreads nothing where what was given is enough", async () => {
    const { run } = garden([...BOUGHT, "day: 0, spread: planting", "day: 5, spread: {A: 5 batches}"]);
    const { stdout, code } = await run("now", "season.yaml", "--on", "40");
    expect(code).toBe(0);
    expect(stdout).toContain("NEXT: SPREAD NOTHING");
  });

  slow("says that a shallow sample and a sample soon after a spreading are what they are", async () => {
    const { now } = garden([
      ...BOUGHT,
      "day: 0, spread: planting, placement: band",
      "day: 3, soil_nitrate: 20 ppm, depth: 12 in, as: NO3-N",
      "day: 15, soil_nitrate: 20 ppm, depth: 6 in, as: NO3-N",
    ]);
    const { warnings, beds } = await now();
    const codes = warnings.map(({ code }) => code);
    expect(codes).toEqual(expect.arrayContaining(["nitrate-soon", "nitrate-band", "nitrate-recorded"]));
    expect(beds[0]!.measuredDay).toBe(3);
  });

  slow("takes beds alike together, as one bed that is as large", { timeout: 120_000 }, async () => {
    const seen = await Promise.all(
      ["row_length: 100 ft, beds_alike: 3", "row_length: 300 ft"].map(async (bed, k) => {
        const { folder, run } = garden();
        const plan = readFileSync(join(folder, "plan.yaml"), "utf8").replace("row_length: 100 ft", bed);
        const whole = plan.replace("960", "2880").replace("2400 sq ft", "7200 sq ft");
        writeFileSync(join(folder, "plan.yaml"), k === 0 ? plan : whole);
        await run(
          "solve",
          "plan.yaml",
          "--set",
          "planted=2027-08-01",
          "--by",
          "weight",
          "--save",
          "alike.yaml",
        );
        for (const said of [
          "-2 bought all",
          "0 spread planting",
          "40 rain 2 in",
          "49 nitrate 8 ppm depth 12 in",
        ])
          expect((await run("log", "alike.yaml", `day ${said}`)).code).toBe(0);
        const { beds, rest } = JSON.parse(
          (await run("now", "alike.yaml", "--by", "weight", "--json")).stdout,
        ) as SeasonNow;
        const { rows } = JSON.parse((await run("record", "alike.yaml", "--json")).stdout) as RecordResult;
        const [{ spreadKg, lostKg, measuredKg, nutrients, chance }] = beds as [SeasonNow["beds"][number]];
        const rates = rows.map(({ kgPerM2 }) => kgPerM2!);
        return [
          spreadKg,
          lostKg,
          measuredKg!,
          nutrients[0]!.newPlanKg!,
          chance.oldPlan.N!,
          rest!.cost.total!,
          ...rates,
        ];
      }),
    );
    for (const [i, value] of seen[0]!.entries()) expect(value, `figure ${i}`).toBeCloseTo(seen[1]![i]!, 6);
  });

  slow("has every chance in CSV too, whether sureness is asked for or not", async () => {
    const { run, now } = garden([
      ...BOUGHT,
      "day: 0, spread: planting",
      "day: 23, spread: three weeks, part: 70%",
    ]);
    const { stdout } = await run("now", "season.yaml", "--format", "csv");
    const [head, nitrogen] = stdout.split("\r\n").map((line) => line.split(","));
    const chance = Number(nitrogen![head!.indexOf("new_plan_chance")]);
    expect(nitrogen![1]).toBe("N");
    expect(chance).toBeCloseTo((await now()).beds[0]!.chance.newPlan.N!, 6);
  });

  it("ends when the season does", async () => {
    const { run, now } = garden([...BOUGHT, "day: 0, spread: planting"]);
    expect((await now("--on", "130")).rest).toBeNull();
    expect((await run("now", "season.yaml", "--on", "130")).stdout).toContain("the season is over");
  });

  slow("asks about one rain without a season file, as much as the season with that rain does", async () => {
    const { run } = garden();
    const quick = await run("now", "plan.yaml", "--rain", "4 in", "--on", "30", "--json");
    const { beds } = JSON.parse(quick.stdout) as SeasonNow;
    expect(beds[0]!.lostKg).toBeGreaterThan(0);
    await run("solve", "plan.yaml", "--set", "planted=2027-08-01", "--save", "asked.yaml");
    for (const said of [
      "day -1 bought all",
      "day 0 spread planting",
      "day 21 spread three weeks",
      "day 30 rain 4 in evaporation 0 in",
    ])
      expect((await run("log", "asked.yaml", said)).code).toBe(0);
    const whole = JSON.parse((await run("now", "asked.yaml", "--json")).stdout) as SeasonNow;
    expect(whole.beds[0]!.lostKg).toBeCloseTo(beds[0]!.lostKg, 4);
    expect(whole.rest!.cost.total).toBeCloseTo(JSON.parse(quick.stdout).rest.cost.total as number, 6);
  });
});

describe("as long as all goes as planned", () => {
  /** A season that `solve --save` begins, as sure of N as is asked. */
  async function begun() {
    const { folder, run } = garden();
    await run(
      ...["solve", "plan.yaml", "--set", "planted=2027-08-01", "--sure", "N=80%", "--save", "new.yaml"],
    );
    const now = async (...flags: string[]) =>
      JSON.parse((await run("now", "new.yaml", "--json", ...flags)).stdout) as SeasonNow;
    return { folder, run, now };
  }

  slow(
    "tells the next round as it was planned, and so do the card and the shopping list",
    {
      timeout: 120_000,
    },
    async () => {
      const { run, now } = await begun();
      const solved = JSON.parse(
        (await run("solve", "plan.yaml", "--set", "planted=2027-08-01", "--sure", "N=80%", "--json")).stdout,
      ) as Solution;
      for (const given of [0, 1]) {
        for (const said of given === 0 ? [] : ["2027-07-20 bought all", "2027-08-01 spread planting"])
          expect((await run("log", "new.yaml", said)).code).toBe(0);
        const { asPlanned, rest, beds } = await now();
        expect([asPlanned, rest!.cost.total]).toEqual([true, given === 0 ? solved.cost.total : 0]);
        const rounds = solved.beds[0]!.rounds.slice(given);
        expect(rest!.beds[0]!.rounds.map(({ name, kg }) => [name, kg.toFixed(1)])).toEqual(
          rounds.map(({ name, kg }) => [name, kg.toFixed(1)]),
        );
        // The weights that are printed are rounded: the chance moves by less than a point.
        expect(Math.abs(beds[0]!.chance.oldPlan.N! - 0.8)).toBeLessThan(0.01);
        expect((await run("now", "new.yaml")).stdout).toMatch(/GO ON AS PLANNED/);
        const card = JSON.parse((await run("card", "new.yaml", "--json")).stdout) as {
          mixes: { kgEach: number }[];
        };
        expect(card.mixes[0]!.kgEach).toBe(rest!.mixes[0]!.batches.kgEach);
        const { stdout } = await run("card", "new.yaml");
        expect(stdout).toContain(`| ${rounds[0]!.name}, `);
        expect(stdout).not.toContain(`| ${rounds[1]!.name}, `);
        const shop = JSON.parse((await run("shop", "new.yaml", "--json")).stdout) as Solution;
        expect(shop.purchases).toEqual(rest!.purchases);
      }
    },
  );

  slow("uses a mix that was kept first, of its own make and for nothing", async () => {
    const { folder, run, now } = await begun();
    const say = async (...lines: string[]) => {
      for (const line of lines) expect((await run("log", "new.yaml", line)).code).toBe(0);
    };
    await say("2027-07-20 bought all", "2027-08-01 spread planting");
    const before = await now();
    const of = ({ beds }: SeasonNow, round: string) => beds[0]!.rounds.find(({ name }) => name === round)!;
    const planned = of(before, "three weeks").gives.A!;
    // Half a batch is mixed and not spread; the old plan is what it was, and gives that much less anew.
    await say("2027-08-02 kept 1/2 batch A");
    const after = await now();
    const kept = of(after, "three weeks").kept.A!;
    expect(after.asPlanned).toBe(true);
    expect(after.rest!.beds[0]!.rounds[0]!.kg + kept).toBeCloseTo(planned, 6);
    expect(after.beds[0]!.chance.oldPlan.N).toBeCloseTo(before.beds[0]!.chance.oldPlan.N!, 2);
    expect(after.beds[0]!.nutrients[0]!.oldPlanKg).toBeCloseTo(before.beds[0]!.nutrients[0]!.oldPlanKg, 6);
    expect(after.beds[0]!.spreadKg).toBeCloseTo(before.beds[0]!.spreadKg, 9);
    expect((await run("now", "new.yaml")).stdout).toMatch(/First spread what is mixed and kept/);
    expect((await run("card", "new.yaml")).stdout).toContain("first spread the");
    // Spread as planned, it is used up, and the shed has lost no more than without it.
    await say("2027-08-22 spread three weeks");
    const used = await now();
    expect(used.kept).toEqual([]);
    writeFileSync(
      join(folder, "new.yaml"),
      readFileSync(join(folder, "new.yaml"), "utf8").replace(/^.*kept: .*\n/m, ""),
    );
    const without = await now();
    expect(used.shed.map(({ kg }) => kg.toFixed(6))).toEqual(without.shed.map(({ kg }) => kg.toFixed(6)));
  });

  slow("plans the rest around a mix that was kept, and leaves it where nothing is needed", async () => {
    const lines = [...BOUGHT, "day: 0, spread: planting", "day: 20, kept: {A: 1 batch}"];
    const { now } = garden([...lines, "day: 21, rain: 3 in"]);
    const { beds, rest } = await now("--on", "22", "--by", "weight");
    const [bed] = beds;
    expect(bed!.rounds.find(({ name }) => name === "three weeks")!.kept.A).toBeGreaterThan(0);
    // What is kept and what is mixed anew together just meet the need, at the season's end or on a day before it.
    const expected = rest!.beds[0]!.nutrients.find(({ nutrient }) => nutrient === "N")!;
    expect(expected.countedKg).toBeGreaterThanOrEqual(expected.minKg * (1 - 1e-6));
    const more = garden([...lines, "day: 21, spread: {A: 3 batches}", "day: 22, spread: {A: 1 batch}"]);
    const full = await more.now("--on", "49");
    expect(full.rest!.mixes).toEqual([]);
    expect(Object.keys(full.beds[0]!.rounds.at(-1)!.kept)).toEqual([]);
  });
});

describe("what went wrong", () => {
  it("is said on the first page: too much spread, caps that are passed, slips in the log", async () => {
    const { run } = garden([
      ...BOUGHT,
      "day: 0, spread: planting",
      "day: 0, spread: planting",
      "day: 9, rain: 40 in",
    ]);
    const { stdout } = await run("now", "season.yaml", "--on", "10");
    const [first] = stdout.split("Watch");
    expect(first).toMatch(/Round planting got 153\.8 lb; 76\.88 lb was planned/);
    expect(first).toMatch(/Is the log right\?\n.*is on line 4.*and on line\s+5.*more than 12 in/s);
    // Three times 137.8 lb of pellets with 3 % P2O5 pass the cap of 0.0747 lb for 43.56 sq ft.
    const passed = garden(["day: 0, spread: {A: 12 batches}"]);
    expect((await passed.run("now", "season.yaml")).stdout).toMatch(
      /What was spread\s+holds 12\.\d+ lb of\s+P2O5; the\s+plan allows/,
    );
  });

  slow(
    "is mended by a round of its own make, which the page says how to log, and then nothing is left to do",
    async () => {
      const { run, now, folder } = garden([
        ...BOUGHT,
        "day: 0, spread: planting",
        "day: 23, spread: three weeks, part: 70%",
      ]);
      const { stdout } = await run("now", "season.yaml", "--sure", "N=70%");
      const line = /log season\.yaml "DATE (spread [^"]+)"/.exec(stdout.replace(/\s+/g, " "))![1]!;
      expect(line).toMatch(/^spread \d.* round heads forming$/);
      expect((await run("log", "season.yaml", "2027-09-20 bought soybean-meal 50 lb")).code).toBe(0);
      expect((await run("log", "season.yaml", `2027-09-20 ${line}`)).code).toBe(0);
      const { beds, rest, asPlanned } = await now("--sure", "N=70%");
      expect(beds[0]!.rounds.map(({ state }) => state)).toEqual(["done", "done", "done"]);
      expect([rest!.mixes, asPlanned, rest!.cost.total]).toEqual([[], false, 0]);
      expect((await run("now", "season.yaml", "--sure", "N=70%")).stdout).toContain("SPREAD NOTHING");
      const wrong = readFileSync(join(folder, "season.yaml"), "utf8").replace(
        "round: heads forming",
        "round: heads",
      );
      writeFileSync(join(folder, "season.yaml"), wrong);
      expect((await run("now", "season.yaml")).stderr).toContain("no planned round is called `heads`");
    },
  );

  slow("is weighed in one unit, and told in the seasons that were worked", async () => {
    const { run, now } = garden([...BOUGHT, "day: 0, spread: {A: 4 batches}"]);
    const { stdout } = await run("now", "season.yaml", "--sure", "N=60%");
    expect(stdout).not.toMatch(/\d oz/);
    const { beds } = await now("--sure", "N=60%");
    expect(stdout.replace(/\s+/g, " ")).toContain(
      `enough in ${Math.round(100 * beds[0]!.chance.newPlan.N!)} of 100 seasons`,
    );
  });

  slow("keeps the stock of what whatif does without, and says so", async () => {
    const { run } = garden([...BOUGHT, "day: 0, spread: planting"]);
    const { stdout } = await run("whatif", "season.yaml", "--exclude", "feather-meal", "--all");
    expect(stdout.replace(/\s+/g, " ")).toContain("What the shed holds of feather-meal is not used either.");
    // What its hint says: nobody buys at that price, and the shed is used up.
    const dear = JSON.parse(
      (await run("whatif", "season.yaml", "--price", "feather-meal=999/lb", "--json")).stdout,
    ) as Comparison;
    expect(dear.cases[0]!.total).toBeLessThan(999);
  });
});

describe("other commands on a season", () => {
  const lines = [...BOUGHT, "day: 0, spread: planting", "day: 23, spread: three weeks, part: 70%"];

  slow("answer for what is left of it, as `now` does", async () => {
    const { run, now } = garden(lines);
    const { rest } = await now();
    for (const command of ["solve", "shop"]) {
      const { stdout } = await run(command, "season.yaml", "--json");
      const { cost, mixes } = JSON.parse(stdout) as Solution;
      expect(cost.total).toBe(rest!.cost.total);
      expect(mixes.map(({ kg }) => kg)).toEqual(rest!.mixes.map(({ kg }) => kg));
    }
    expect((await run("card", "season.yaml")).stdout).toContain("heads forming");
    expect((await run("whatif", "season.yaml", "--price", "all=+10%")).code).toBe(0);
  });

  slow("work what came through a pipe again", async () => {
    const { run, folder, now } = garden(lines);
    const { stdout } = await run("now", "season.yaml", "--json");
    const world = testWorld({ cwd: folder, stdin: stdout });
    expect(await main(["solve", "-", "--json"], world)).toBe(0);
    expect((JSON.parse(world.written.stdout) as Solution).cost.total).toBe((await now()).rest!.cost.total);
  });
});

describe("the season of a farm", () => {
  slow("is that of each of its beds, by the days since its own planting", { timeout: 120_000 }, async () => {
    const { folder, run } = garden();
    const farm = [
      "farm: Two terraces",
      "amendments: amendments.yaml",
      "planted: 2027-08-01",
      "batch: {size: 50 lb}",
      "scale: 0.1 lb",
      "beds:",
      "  - {bed: early, target: target.yaml, plants: 960, area: 2400 sq ft, rounds: [0, 21, 50]}",
      "  - {bed: late, target: target.yaml, plants: 960, area: 2400 sq ft, rounds: [0, 21, 50], planted: 2027-08-11}",
    ];
    writeFileSync(join(folder, "farm.yaml"), farm.join("\n"));
    const saved = await run(
      "solve",
      "farm.yaml",
      "--by",
      "weight",
      "--sure",
      "N=90%",
      "--save",
      "farm-season.yaml",
    );
    expect(saved.stdout).toContain("Wrote farm-season.yaml");
    const text = readFileSync(join(folder, "farm-season.yaml"), "utf8");
    expect(text).toContain("sure: {N: 90%}");
    expect(text).toMatch(/bed: late, round: round 1, day: 2027-08-11/);
    // A bed that was left out gets its round late, and what is mixed and kept first.
    writeFileSync(join(folder, "left-out.yaml"), text);
    const own = /bed: late, round: round 1, day: 2027-08-11, (\w+):/.exec(text)![1]!;
    for (const said of ["2027-08-01 spread round 1 bed early", `2027-08-12 kept 5 lb ${own}`])
      expect((await run("log", "left-out.yaml", said)).code).toBe(0);
    const out = JSON.parse(
      (await run("now", "left-out.yaml", "--by", "weight", "--on", "2027-08-13", "--json")).stdout,
    ) as SeasonNow;
    expect(out.beds.map(({ rounds: [first] }) => first!.state)).toEqual(["done", "late"]);
    expect(out.beds[1]!.rounds.map(({ kept }) => (kept[own] ?? 0) / LB)).toEqual([5, 0, 0]);
    for (const said of [
      "2027-08-01 spread round 1 bed early",
      "2027-08-11 spread round 1 bed late",
      "2027-08-25 rain 3 in evaporation 0.5 in",
      "2027-09-01 nitrate 6 ppm depth 12 in bed late",
    ])
      expect((await run("log", "farm-season.yaml", said)).code).toBe(0);
    const { stdout } = await run("now", "farm-season.yaml", "--by", "weight", "--json");
    const next = await run("init", "next", "--after", "farm-season.yaml");
    expect([next.code, next.stderr]).toEqual([
      2,
      expect.stringContaining("a farm's next year is not written"),
    ]);
    const { beds, rest, asked } = JSON.parse(stdout) as SeasonNow;
    expect([asked, rest!.status, beds.map(({ day }) => day)]).toEqual([0.9, "optimal", [31, 21]]);
    // The late bed alone, as the plan of one bed: the same spreading and the same rain, ten days earlier in its season.
    const plan = [
      ...farm.slice(1, 2),
      ...farm.slice(3, 5),
      "plan: late",
      "planted: 2027-08-11",
      "target: target.yaml",
    ];
    const bed = ["bed: {plants: 960, area: 2400 sq ft}", "applications: [{day: 0}, {day: 21}, {day: 50}]"];
    writeFileSync(join(folder, "late.yaml"), [...plan, ...bed].join("\n"));
    const kept = text.slice(text.indexOf("mixes:"), text.indexOf("planned:"));
    const given = /bed: late, round: round 1, day: 2027-08-11, (A: [^}]*)}/.exec(text)![1];
    const log = [
      `day: 2027-08-11, spread: {${given}}`,
      "day: 2027-08-25, rain: 3 in, evaporation: 0.5 in",
      "day: 2027-09-01, soil_nitrate: 6 ppm, depth: 12 in, as: NO3-N",
    ];
    writeFileSync(
      join(folder, "late-season.yaml"),
      seasonText(log, `season: late.yaml\nsure: {N: 90%}\n${kept}log:\n`),
    );
    const alone = JSON.parse(
      (await run("now", "late-season.yaml", "--by", "weight", "--json")).stdout,
    ) as SeasonNow;
    const figures = ({ spreadKg, lostKg, expectedKg, measuredKg, chance }: SeasonNow["beds"][number]) => [
      ...[spreadKg, lostKg, expectedKg!, measuredKg!],
      chance.nothing.N!,
    ];
    for (const [i, figure] of figures(alone.beds[0]!).entries())
      expect(figures(beds[1]!)[i], `figure ${i}`).toBeCloseTo(figure, 9);
  });
});

describe("a farm's limit on its whole heap", () => {
  slow("counts what was spread, and holds for the rest of all beds", { timeout: 120_000 }, async () => {
    const { folder, run } = garden();
    const farm = (most: string) =>
      writeFileSync(
        join(folder, "farm.yaml"),
        [
          ...[
            "farm: Two terraces",
            "amendments: amendments.yaml",
            "planted: 2027-08-01",
            "batch: {size: 50 lb}",
          ],
          ...["scale: 0.1 lb", `limits: {feather-meal: {max: ${most}}}`, "beds:"],
          "  - {bed: upper, target: target.yaml, plants: 960, area: 2400 sq ft, rounds: [0, 50]}",
          "  - {bed: lower, target: target.yaml, plants: 960, area: 2400 sq ft, rounds: [0, 50]}",
        ].join("\n"),
      );
    farm("1000 lb");
    await run("solve", "farm.yaml", "--by", "weight", "--save", "farm-season.yaml");
    await run("log", "farm-season.yaml", "2027-08-01 spread 20 lb feather-meal bed upper");
    await run("log", "farm-season.yaml", "2027-08-01 spread 30 lb feather-meal bed lower");
    const used = async (): Promise<number | null> => {
      const { stdout } = await run("now", "farm-season.yaml", "--by", "weight", "--on", "2", "--json");
      const { rest } = JSON.parse(stdout) as SeasonNow;
      if (rest!.status === "infeasible") return null;
      const all = rest!.mixes.flatMap(({ materials }) => materials);
      return all.reduce((sum, { id, kg }) => (id === "feather-meal" ? sum + kg / LB : sum), 0);
    };
    const free = (await used())!;
    expect(free).toBeGreaterThan(6);
    // 50 lb of the season's limit are spread: five less than what the rest would take is left of it.
    farm(`${50 + free - 5} lb`);
    expect(await used()).toBeLessThanOrEqual(free - 5 + 1e-6);
  });
});

describe("solve --save", () => {
  it("says what flags changed that the season's plan does not say", async () => {
    const { run } = garden();
    const flags = ["--set", "planted=2027-08-01", "--exclude", "feather-meal", "--sure", "80%"];
    const { stdout } = await run("solve", "plan.yaml", ...flags, "--save", "new.yaml");
    const said = stdout.replace(/\s+/g, " ");
    expect(said).toContain("does not say what --exclude changed: write it there too");
  });

  it("begins a season that goes on as was decided", async () => {
    const { run } = garden();
    const saved = await run(
      "solve",
      "plan.yaml",
      "--set",
      "planted=2027-08-01",
      "--save",
      "new.yaml",
      "--json",
    );
    const { mixes, purchases } = JSON.parse(saved.stdout) as Solution;
    expect((await run("check", "new.yaml")).code).toBe(0);
    await run("log", "new.yaml", "2027-07-20 bought all");
    const now = JSON.parse(
      (await run("now", "new.yaml", "--on", "2027-07-21", "--json")).stdout,
    ) as SeasonNow;
    for (const { id, boughtKg } of purchases)
      if (boughtKg > 0) expect(shedOf(now)[id]! * LB).toBeCloseTo(boughtKg, 3);
    expect(now.rest!.cost.total).toBe(0);
    expect(mixes[0]!.batches.count).toBeGreaterThan(0);
  });

  slow("never writes over a file, and needs a day of planting", async () => {
    const { run } = garden([]);
    const there = await run("solve", "plan.yaml", "--set", "planted=2027-08-01", "--save", "season.yaml");
    expect([there.code, there.stderr]).toEqual([2, expect.stringContaining("never written over")]);
    const json = await run("solve", "plan.yaml", "--save", "answer.json");
    expect([json.code, json.stderr]).toEqual([2, expect.stringContaining("--json --out answer.json")]);
    const undated = await run("solve", "plan.yaml", "--save", "new.yaml");
    expect([undated.code, undated.stderr]).toEqual([
      2,
      expect.stringContaining("does not say when the crop is planted"),
    ]);
  });
});
