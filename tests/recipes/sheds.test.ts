/**
 * Every shipped crop with each of ten common sheds: a mix, or a reason that a grower accepts. `sheds.md` beside this file is
 * the table of outcomes; `npx vitest run tests/recipes/sheds.test.ts -u` writes it again, to be read in review. What growers
 * commonly keep is common practice, no source.
 */
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import type { Solution } from "../../src/results/solution.ts";
import { type OneBed, weighed } from "../helpers/answers.ts";
import { shippedCrops, shippedPlan } from "../helpers/shipped-plans.ts";
import { ROOT } from "../helpers/world.ts";

const SHEDS = [
  ["blood-meal", "bone-meal", "potassium-sulfate"],
  ["feather-meal", "bone-meal-steamed", "potassium-sulfate"],
  ["poultry-pellets", "feather-meal", "potassium-sulfate"],
  ["poultry-pellets", "langbeinite", "blood-meal"],
  ["alfalfa-meal", "kelp-meal", "bone-meal"],
  ["compost", "blood-meal", "wood-ash"],
  ["soybean-meal", "rock-phosphate", "greensand"],
  ["fish-meal", "potassium-sulfate", "gypsum"],
  ["urea", "superphosphate", "potassium-chloride"],
  ["cattle-manure", "feather-meal", "bone-meal", "langbeinite", "kieserite"],
] as const;

/** Reasons that need no more words: nothing in the shed brings it, or what brings it frees too little in the season. */
const PLAIN = /no amendment in the plan brings any|cannot be met|every source of|too little/;

const outcomes = new Map<string, string>();

/** One outcome in a few words. */
function outcomeOf({ status, total, conflicts, warnings, beds }: OneBed & Pick<Solution, "beds">): string {
  if (status === "optimal") {
    const gaveWay = warnings
      .concat(beds[0]!.warnings)
      .some(({ code }) => code === "phosphorus-unavoidable" || code === "cap-gave-way");
    return `$${total!.toFixed(2)}${gaveWay ? ", cap gives way" : ""}`;
  }
  const all = conflicts.concat(beds[0]!.conflicts).map(({ text }) => text);
  return `no mix: ${[...new Set(all)].join(" ")}`;
}

describe("every shipped crop with ten common sheds", () => {
  const crops = shippedCrops(ROOT);
  it.each(crops)("%s", async (crop) => {
    for (const shed of SHEDS) {
      const bed = { plants: 400, area: "1500 sq ft" };
      const plan = shippedPlan(ROOT, crop, { only: shed, bed, applications: [{ day: 0 }] });
      const solution = await weighed(plan);
      expect(["optimal", "infeasible"]).toContain(solution.status);
      const outcome = outcomeOf(solution as OneBed & Pick<Solution, "beds">);
      if (solution.status === "infeasible") {
        expect(outcome, `${crop} from ${shed.join(", ")}`).toMatch(PLAIN);
        expect(outcome.length).toBeLessThan(1200);
      }
      outcomes.set(`${crop}/${shed.join(", ")}`, outcome);
    }
  });

  it("blood meal, bone meal and potassium sulfate feed peppers, as far over the cap as cannot be helped", () => {
    const outcome = outcomes.get("pepper/blood-meal, bone-meal, potassium-sulfate");
    expect(outcome).toMatch(/^\$.*cap gives way$/);
  });

  it("stand in sheds.md", async () => {
    expect(outcomes.size).toBe(crops.length * SHEDS.length);
    const lines = SHEDS.flatMap((shed) => [
      `## ${shed.join(", ")}`,
      "",
      "| crop | outcome |",
      "|---|---|",
      ...crops.map(
        (crop) => `| ${crop} | ${outcomes.get(`${crop}/${shed.join(", ")}`)!.replaceAll("|", "/")} |`,
      ),
      "",
    ]);
    const text = [
      "# Shipped crops with ten common sheds",
      "",
      "1,500 sq ft, by weight, prices as shipped.",
      "",
      ...lines,
    ].join("\n");
    await expect(text).toMatchFileSnapshot(join(import.meta.dirname, "sheds.md"));
  });
});
