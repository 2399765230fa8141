/** `init next --after season.yaml`: next year's plan from a season. */
import { cpSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { parse } from "yaml";
import { main } from "../../src/cli.ts";
import { TERRACES } from "../helpers/season.ts";
import { testWorld } from "../helpers/world.ts";

const folder = mkdtempSync(join(tmpdir(), "barrowmix-next-"));
afterAll(() => rmSync(folder, { recursive: true }));
cpSync(TERRACES, folder, { recursive: true });

async function run(...args: string[]) {
  const world = testWorld({ cwd: folder });
  return { code: await main(args, world), ...world.written };
}

describe("the year after a season", () => {
  it("begins with the shed as it was left, prices as paid and last year's spreadings as credits", {
    timeout: 120_000,
  }, async () => {
    expect((await run("init", "next", "--after", "season.yaml")).code).toBe(0);
    const amendments = parse(readFileSync(join(folder, "next/amendments.yaml"), "utf8")) as {
      amendments: Record<string, { stock: string; packs?: { size: string; price: number }[] }>;
    };
    // Weighed on the season's last line; and 150 lb of pellets less 0.4 and 0.7 x 0.35 of 137.8 lb.
    expect(amendments.amendments["feather-meal"]!.stock).toBe("12 lb");
    expect(Number.parseFloat(amendments.amendments["turkey-litter-pellets"]!.stock)).toBeCloseTo(
      150 - 137.8 * 0.645,
      2,
    );
    expect(amendments.amendments["turkey-litter-pellets"]!.packs).toEqual([
      { size: "50 lb", price: 15.5, supplier: "feed-mill" },
    ]);
    const plan = parse(readFileSync(join(folder, "next/plan.yaml"), "utf8")) as {
      planted: string;
      credits: { from: string; N?: string; day: number }[];
    };
    expect(plan.planted).toBe("2028-08-01");
    const nitrogen = plan.credits.filter(({ N }) => N !== undefined);
    // Pellets hold 4 % nitrogen and feather meal 13 %; 2028 has a 29th of February.
    expect(nitrogen.map(({ day }) => day)).toEqual([-366, -366, -343, -343]);
    expect(Number.parseFloat(nitrogen[0]!.N!)).toBeCloseTo(0.4 * 137.8 * 0.04, 2);
    expect(Number.parseFloat(nitrogen[1]!.N!)).toBeCloseTo(0.4 * 43.2 * 0.13, 2);
    expect((await run("check", "next/plan.yaml")).code).toBe(0);
    expect((await run("solve", "next/plan.yaml", "--by", "weight")).code).toBe(0);
  });

  it("takes no flag that it would not follow", async () => {
    const { code, stderr } = await run("init", "other", "--after", "season.yaml", "--recipe", "kale");
    expect([code, stderr]).toEqual([2, expect.stringContaining("without --recipe")]);
  });

  it("never overwrites", async () => {
    const again = await run("init", "next", "--after", "season.yaml");
    expect([again.code, again.stderr]).toEqual([2, expect.stringContaining("nothing is overwritten")]);
  });
});
