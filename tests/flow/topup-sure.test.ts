import { describe, expect, it } from "vitest";
import { solvePlan } from "../../src/flow/blend.ts";
import { topUp } from "../../src/flow/topup.ts";
import type { Plan } from "../../src/model.ts";
import { renderTerminal } from "../../src/render/terminal.ts";
import { topUpReport } from "../../src/report/topup-report.ts";
import type { Rain, TopUp } from "../../src/results/topup.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { seeded } from "../helpers/random.ts";

const RELEASE = { atOnce: 0.2, later: 0.5, halfLife: 25 };
const NEED_KG = 10;
const SEASON = 100;
const DAYS: readonly number[] = [0, 30];
const SHARES: readonly number[] = [0.6, 0.4];

function bed(more: Record<string, unknown> = {}): Plan {
  return loadTree({
    plan: "Bed",
    units: "metric",
    amendments: {
      meal: {
        name: "Meal",
        analysis: { N: 10 },
        packs: [{ size: "20 kg", price: 20 }],
        release: { at_once: "20%", later: "50%", half_life: "25 days" },
      },
    },
    target: { target: "Any", season: "100 days", need: { per: "bed", N: `${NEED_KG} kg` } },
    applications: [
      { day: 0, share: "60%" },
      { day: 30, share: "40%" },
    ],
    bed: { area: "100 m2" },
    ...more,
  });
}

const RAIN: Rain = { rainM: 0.08, day: 25, soilWater: 0.25, depthM: 0.3, evaporationM: 0, mixedToM: 0 };

/** Share of the meal's nitrogen that is there by a day. */
function there(applied: number, day: number): number {
  if (day <= applied) return 0;
  return RELEASE.atOnce + RELEASE.later * (1 - 2 ** (-(day - applied) / RELEASE.halfLife));
}

/**
 * How often the need is met after the rain, by seasons drawn at random and multiplied out, from the weights alone. The
 * spreads are those of `list varies` for a material that states no kind and a release of one's own, written out again;
 * the loss is Burns's equation with the soil's water known to five points.
 */
function drawn(mealKg: number, dressingKg: number, seasons: number): number {
  const random = seeded(11);
  const normal = (): number =>
    Math.sqrt(-2 * Math.log(1 - random.next())) * Math.cos(2 * Math.PI * random.next());
  const own = Math.sqrt(0.18 ** 2 - 0.08 ** 2);
  let met = 0;
  for (let j = 0; j < seasons; j++) {
    const content = 0.1 * (1 + 0.08 * normal());
    const release = (1 + 0.08 * normal()) * (1 + own * normal());
    const rounds = [1 + 0.03 * normal(), 1 + 0.03 * normal(), 1 + 0.03 * normal()];
    const soilWater = RAIN.soilWater + 0.05 * normal();
    const by = (day: number): number =>
      DAYS.reduce(
        (sum, applied, t) =>
          sum + mealKg * SHARES[t]! * rounds[t]! * content * Math.min(1, release * there(applied, day)),
        0,
      );
    const lying = Math.max(0, by(RAIN.day) - (NEED_KG * RAIN.day) / SEASON);
    const lost = lying * Math.exp((-RAIN.depthM * Math.max(0.01, soilWater)) / RAIN.rainM);
    const dressed = dressingKg * rounds[2]! * content * Math.min(1, release * there(RAIN.day, SEASON));
    if (by(SEASON) - lost + dressed >= NEED_KG) met++;
  }
  return met / seasons;
}

const dressingOf = ({ amendments }: TopUp): number => amendments.reduce((sum, { kg }) => sum + kg, 0);

describe("a dressing as sure as asked", () => {
  it.each(["80%", "90%", "95%"])("meets the need in %s of seasons drawn at random", async (sure) => {
    const plan = bed({ sure: { N: sure } });
    const p = Number.parseFloat(sure) / 100;
    const [spread] = (await solvePlan(plan)).amendments;
    const found = (await topUp(plan, RAIN))!;
    expect([found.status, found.asked]).toEqual(["found", p]);
    const kg = dressingOf(found);
    expect(kg).toBeGreaterThan(0);
    const share = drawn(spread!.kg, kg, 60_000);
    expect(Math.abs(share - p)).toBeLessThan(0.01);
    const [end] = found.checkpoints;
    expect(Math.abs(end!.met!.withChecked - share)).toBeLessThan(0.008);
    expect(Math.abs(end!.met!.with - share)).toBeLessThan(0.02);
    expect(Math.abs(end!.met!.without - drawn(spread!.kg, 0, 60_000))).toBeLessThan(0.02);
  });

  it("is larger the surer it is to be, and today's where nobody asks", async () => {
    const plain = (await topUp(bed(), RAIN))!;
    expect([plain.asked, plain.checkpoints[0]!.met]).toEqual([undefined, undefined]);
    const amounts = [[60, 40]];
    const kg: number[] = [];
    for (const sure of [undefined, "50%", "70%", "90%", "99%"]) {
      const found = await topUp(bed(sure === undefined ? {} : { sure: { N: sure } }), RAIN, amounts);
      kg.push(dressingOf(found!));
    }
    expect(kg[1]).toBe(kg[0]);
    for (let k = 2; k < kg.length; k++) expect(kg[k]!).toBeGreaterThan(kg[k - 1]!);
  });

  it("says that nothing is to be replaced only where what is left is as sure", async () => {
    // Much more than is needed: after the rain the need is met on the average, and in how many seasons counts.
    const enough = [[105, 70]];
    expect((await topUp(bed(), RAIN, enough))!.status).toBe("enough-left");
    const asked = (await topUp(bed({ sure: { N: "99%" } }), RAIN, enough))!;
    expect(asked.status).toBe("found");
    expect(drawn(175, 0, 20_000)).toBeLessThan(0.97);
    expect(drawn(175, dressingOf(asked), 60_000)).toBeGreaterThan(0.98);
    const text = renderTerminal(topUpReport(asked, 0.01), { colour: false, width: 80 });
    expect(text.replace(/\s+/g, " ")).toContain("meet the need of nitrogen again in about 99 seasons of 100");
  });

  it("comes as near as it can where a cap is in the way", async () => {
    const capped = {
      target: "Any",
      season: "100 days",
      need: { per: "bed", N: `${NEED_KG} kg` },
      applied_max: { per: "bed", N: "16.5 kg" },
    };
    const plan = bed({ target: capped, sure: { N: "95%" } });
    const found = (await topUp(plan, RAIN, [[84, 56]]))!;
    expect(found.status).toBe("short");
    expect(dressingOf(found)).toBeCloseTo(25, 6);
    expect(found.checkpoints[0]!.met!.with).toBeLessThan(0.95);
  });
});
