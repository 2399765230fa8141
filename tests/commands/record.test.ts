/** `record`: read back by a CSV library of others, and weighed against the log by hand. */
import { readFileSync } from "node:fs";
import { parse } from "csv-parse/sync";
import { describe, expect, it } from "vitest";
import { parse as parseYaml } from "yaml";
import { main } from "../../src/cli.ts";
import type { RecordResult } from "../../src/results/record.ts";
import { TERRACES } from "../helpers/season.ts";
import { ROOT, testWorld } from "../helpers/world.ts";

const SEASON = `${TERRACES}/season.yaml`;

async function recorded(...flags: string[]): Promise<string> {
  const world = testWorld();
  expect(await main(["record", SEASON, ...flags], world)).toBe(0);
  return world.written.stdout;
}

type Row = Readonly<Record<string, string>>;
const rowsOf = (csv: string): Row[] => parse(csv, { columns: true, relax_column_count: false }) as Row[];

describe("the record of the example", () => {
  it("weighs what the log says, read back by another library", async () => {
    // The log by its own YAML alone: shares of the plan, the heap, what is void.
    const season = parseYaml(readFileSync(SEASON, "utf8")) as {
      mixes: { A: Record<string, string> };
      log: Record<string, unknown>[];
    };
    const plan = parseYaml(readFileSync(`${TERRACES}/plan.yaml`, "utf8")) as {
      applications: { name: string; share: string }[];
    };
    const voided = new Set(
      season.log.flatMap((line) => (line.void ? [(line.void as { line: number }).line] : [])),
    );
    const expected: [string, string, number][] = season.log.flatMap((line, i): [string, string, number][] => {
      if (typeof line.spread !== "string" || voided.has(i + 1)) return [];
      const share =
        Number.parseFloat(plan.applications.find(({ name }) => name === line.spread)!.share) / 100;
      const part = line.part === undefined ? 1 : Number.parseFloat(String(line.part)) / 100;
      return Object.entries(season.mixes.A).map(([id, lb]) => [
        String(line.day),
        id,
        part * share * Number.parseFloat(lb),
      ]);
    });
    const rows = rowsOf(await recorded("--format", "csv"));
    const spread = rows.filter(({ what }) => what === "spread");
    expect(spread.map(({ date, id }) => [date, id])).toEqual(expected.map(([day, id]) => [day, id]));
    for (const [k, row] of spread.entries()) expect(Number(row.weight_lb)).toBeCloseTo(expected[k]![2], 6);
    expect(expected.length).toBeGreaterThanOrEqual(6);
    // 2,400 sq ft of the plan's bed.
    for (const row of spread)
      expect(Number(row.rate_lb_per_1000_sq_ft)).toBeCloseTo(Number(row.weight_lb) / 2.4, 6);
    const bought = rows.filter(({ what }) => what === "bought");
    expect(bought.map(({ id, weight_lb, paid_usd }) => [id, Number(weight_lb), Number(paid_usd)])).toEqual([
      ["feather-meal", 50, 43.5],
      ["langbeinite", 50, 39],
      ["turkey-litter-pellets", 150, 46.5],
    ]);
  });

  it("has a field for each thing that the rule asks for: substance, who and address, date, rate, method", async () => {
    // 7 U.S.C. 6519(a)(2): history of substances applied; names and addresses; dates, rate and method [memory].
    const [row] = rowsOf(await recorded("--format", "csv"));
    const fields = [
      "material",
      "who",
      "address",
      "date",
      "rate_lb_per_1000_sq_ft",
      "method",
      "lot",
      "supplier",
      "brand",
      "organic",
      "area_sq_ft",
      "crop",
      "note",
    ];
    expect(Object.keys(row!)).toEqual(expect.arrayContaining(fields));
    expect(row).toMatchObject({
      who: "Maria of the terraces",
      address: "Kestrel Bank, upper gate",
      lot: "",
      date: "2027-08-01",
    });
  });

  it.each(["md", "html", "table"])("never says that it complies (%s)", async (format) => {
    const text = (await recorded("--format", format)).replace(/\s+/g, " ");
    expect(text).toContain("7 U.S.C. 6519(a)(2)");
    expect(text).toContain("keep them 5 years");
    expect(text).toContain("for your certifier to decide");
    expect(text).not.toMatch(/complia|complies|certified organic|meets the/i);
  });

  it("lists what is missing, and invents nothing", async () => {
    const json = JSON.parse(await recorded("--json")) as {
      missing: string[];
      rows: { id: string; lot: string | null }[];
    };
    expect(json.missing).toEqual([
      expect.stringContaining("How it was placed is not said: 2027-08-01 (line"),
      expect.stringContaining("The lot of Turkey litter pellets"),
    ]);
    // Feather meal had one lot and none in the shed; of the pellets no bag's lot is written.
    expect(json.rows.filter(({ id }) => id === "feather-meal").map(({ lot }) => lot)).toEqual([
      "F-0720",
      "F-0720",
    ]);
    expect(json.rows.filter(({ id }) => id === "turkey-litter-pellets").map(({ lot }) => lot)).toEqual([
      null,
      null,
    ]);
  });

  it("repeats what else the log says, and what was taken back with the reason", async () => {
    const { others } = JSON.parse(await recorded("--json")) as RecordResult;
    const said = others.map(({ text, void: taken }) => [text.replace(/^day: [\d-]+, /, ""), taken]);
    expect(said).toEqual([
      ["spread: three weeks, part: 70%, who: maria", "written twice"],
      ["rain: 2.5 in, evaporation: 0.5 in", null],
      ["soil_nitrate: 5 ppm, depth: 12 in, as: NO3-N, test: strip", null],
      ["left: feather-meal: 12 lb", null],
    ]);
    const page = await recorded();
    expect(page.replace(/\s+/g, " ")).toContain("who: maria - TAKEN BACK: written twice");
    expect(page).toContain("3 x 50 lb");
  });

  it("has the same rows in kilograms", async () => {
    const us = rowsOf(await recorded("--format", "csv"));
    const metric = rowsOf(await recorded("--format", "csv", "--units", "metric"));
    for (const [k, row] of metric.entries())
      expect(Number(row.weight_kg)).toBeCloseTo(Number(us[k]!.weight_lb) * 0.45359237, 6);
  });

  it("is refused of what is no season", async () => {
    const world = testWorld();
    expect(await main(["record", `${ROOT}/examples/brassica-terraces/plan.yaml`], world)).toBe(2);
    expect(world.written.stderr).toContain("is a plan; a season is needed here");
  });
});
