/** Plans far larger than a shed, each application with a blend of its own. */
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { solveBlend } from "../../src/flow/solve-blend.ts";
import { highsEngine } from "../../src/solver/engine-highs.ts";
import { costOf } from "../../src/solver/verify.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { seeded } from "../helpers/random.ts";
import { alternate, type Benchmark, check, runNode } from "./measure.ts";

const PLAN = "examples/brassica-terraces/plan.yaml";

/** A plan file of so many amendments and applications. */
export function largeTree(wanted: number, applications: number): Record<string, unknown> {
  const random = seeded(3);
  const amendments: Record<string, unknown> = {};
  for (let i = 0; i < wanted; i++) {
    const analysis: Record<string, number> = {};
    for (const nutrient of ["N", "P2O5", "K2O", "Ca", "Mg", "S", "B", "Zn"])
      if (random.chance(0.45))
        analysis[nutrient] = random.between(0.2, nutrient.length === 1 && nutrient !== "B" ? 12 : 3);
    if (Object.keys(analysis).length === 0) analysis.N = 3;
    amendments[`material-${i}`] = {
      name: `Material ${i}`,
      analysis,
      packs: [{ size: "50 lb", price: random.between(10, 80) }],
      release: random.pick(["at-once", "fast", "medium", "slow"]),
      density: "0.7 kg/L",
    };
  }
  return {
    plan: "Large",
    amendments,
    target: {
      target: "Large",
      season: "120 days",
      need: {
        per: "acre",
        N: { min: "150 lb", max: "260 lb" },
        P2O5: "50 lb",
        K2O: "180 lb",
        Ca: "40 lb",
        Mg: "20 lb",
        S: "25 lb",
        B: "1 lb",
        Zn: "2 lb",
      },
      uptake: {
        N: { 30: "10%", 60: "45%", 90: "85%", 120: "100%" },
        other: { 30: "12%", 60: "50%", 120: "100%" },
      },
      ahead_max: { per: "acre", N: "60 lb" },
      applied_max: { per: "acre", P2O5: "90 lb" },
    },
    bed: { plants: 2000, area: "20000 sq ft" },
    soil_temperature: "18 C",
    applications: Array.from({ length: applications }, (_, t) => ({
      name: `round ${t}`,
      day: Math.round((t * 110) / applications),
    })),
    blend: "each",
    batch: { size: "60 lb" },
    scale: "0.1 lb",
    limits: Object.fromEntries(
      Array.from({ length: 5 }, (_, k) => [`material-${k * 3}`, { max_share: "30%" }]),
    ),
  };
}

export const large: Benchmark = {
  name: "200 amendments x 10 applications",
  async run(root) {
    const tree = largeTree(200, 10);
    const solved = await solveBlend(loadTree(tree));
    const other = await highsEngine.solve(solved.program);
    check(solved.answer.status === "optimal" && other.status === "optimal", "the large plan solves");
    if (solved.answer.status !== "optimal" || other.status !== "optimal") return [];
    const cost = solved.answer.check.cost;
    check(
      Math.abs(cost - costOf(solved.program, other.x)) <= 1e-6 * cost,
      "the large plan's cost equals HiGHS's",
    );
    const folder = mkdtempSync(join(tmpdir(), "barrowmix-bench-"));
    try {
      const file = join(folder, "large.yaml");
      writeFileSync(file, JSON.stringify(tree));
      const program = "bin/barrowmix.cjs";
      const printed = JSON.parse(
        (await runNode([program, "solve", file, "--by", "weight", "--json"], root)).stdout,
      );
      check(Math.abs(printed.cost.total - cost) <= 1e-6 * cost, "the command prints the same cost");
      const [small, big] = await alternate(
        [
          [program, "solve", PLAN, "--by", "weight"],
          [program, "solve", file, "--by", "weight"],
        ],
        7,
        root,
      );
      return [
        {
          name: "large plan, solve command",
          value: big!.ms / small!.ms,
          unit: "x the demo",
          goal: { at: "most", value: 20 },
          detail: `${solved.program.columns.length} columns, ${solved.program.rows.length} rows; ${big!.ms.toFixed(0)} ms against ${small!.ms.toFixed(0)} ms`,
        },
      ];
    } finally {
      rmSync(folder, { recursive: true });
    }
  },
};
