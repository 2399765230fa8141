/** Dates in place of days, and the grower's own measures, in plans and mixes. */
import { describe, expect, it } from "vitest";
import { main } from "../../src/cli.ts";
import type { Plan } from "../../src/model.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { testWorld } from "../helpers/world.ts";

const tree = (more: object) => ({
  plan: "Dated",
  amendments: {
    meal: {
      name: "Meal",
      analysis: { N: 10 },
      packs: [{ size: "50 lb", price: 30 }],
      release: "fast",
      density: "0.6 kg/L",
    },
  },
  target: { target: "Crop", season: "100 days", need: { per: "bed", N: "2 lb" } },
  bed: { plants: 100 },
  ...more,
});
const days = (plan: Plan) => plan.applications.map(({ day }) => day);

describe("dates in a plan", () => {
  it("mean the days they stand for", () => {
    const dated = loadTree(
      tree({
        planted: "2027-05-20",
        soil_temperature: { "May 20": "18 C", "2027-07-19": "22 C" },
        credits: [{ from: "compost", per: "bed", N: "0.1 lb", day: "May 6" }],
        applications: [
          { name: "planting", day: 0 },
          { name: "later", day: "June 3" },
          { name: "last", day: "day 40" },
        ],
        harvest: { first: "3 August" },
      }),
    );
    const counted = loadTree(
      tree({
        soil_temperature: { 0: "18 C", 60: "22 C" },
        credits: [{ from: "compost", per: "bed", N: "0.1 lb", day: -14 }],
        applications: [
          { name: "planting", day: 0 },
          { name: "later", day: 14 },
          { name: "last", day: 40 },
        ],
        harvest: { first: 75 },
      }),
    );
    expect(dated.planted).toBe("2027-05-20");
    const { planted: _, ...rest } = dated;
    expect(rest).toEqual(counted);
    expect(days(dated)).toEqual([0, 14, 40]);
  });

  it("are printed beside the days", async () => {
    const stdin = JSON.stringify(tree({ planted: "2027-05-20", applications: [{ day: "June 3" }] }));
    for (const [args, part] of [
      [["solve", "-"], /day 14 +Jun 3 /],
      [["card", "-"], /day 14 \(Jun 3\)/],
      [["card", "-", "--json"], /"date": "2027-06-03"/],
    ] as const) {
      const world = testWorld({ stdin });
      expect(await main(args, world), world.written.stderr).toBe(0);
      expect(world.written.stdout).toMatch(part);
    }
  });
});

describe("measures of one's own", () => {
  const scoops = { scoop: "1 quart", barrow: "6 cu ft", "blue bucket": "5 gal" };

  it("are units of a batch", () => {
    const litres = (batch: unknown) => loadTree(tree({ scoops, batch })).batch;
    // 6 cu ft and 5 US gallons, exact by definition of the foot and the gallon.
    const barrow = 6 * 28.316846592;
    const bucket = 5 * 3.785411784;
    const close = (value: unknown, wanted: number) =>
      expect((value as { litres: number }).litres / wanted).toBeCloseTo(1, 9);
    close(litres("1 barrow"), barrow);
    close(litres("barrow"), barrow);
    close(litres({ size: "2 Barrows" }), 2 * barrow);
    close(litres({ volume: "1/2 blue bucket" }), bucket / 2);
    expect(litres("60 lb")).toEqual({ kg: 60 * 0.45359237 });
    close(litres("2\n\nbarrows"), 2 * barrow);
  });

  it("are units of a mix and of what each plant gets", async () => {
    const mix = {
      mix: { meal: "3 scoops" },
      amendments: tree({}).amendments,
      scoops,
      spread: { plants: 10, per_plant: "1/4 scoop" },
    };
    const world = testWorld({ stdin: JSON.stringify(mix) });
    expect(await main(["assay", "-", "--json"], world), world.written.stderr).toBe(0);
    const { kg, perPlant } = JSON.parse(world.written.stdout);
    const quart = 0.946352946;
    expect(kg).toBeCloseTo(3 * quart * 0.6, 9);
    expect(perPlant.mL).toBeCloseTo(quart * 250, 6);
  });
});
