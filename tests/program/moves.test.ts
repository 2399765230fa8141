/** A move of a program against the program of the plan that was really changed. */
import { describe, expect, it } from "vitest";
import type { Demand, Plan } from "../../src/model.ts";
import { buildProgram } from "../../src/program/build.ts";
import { demandHandles, type Handle, moveOf, numberOf, priceColumns } from "../../src/program/moves.ts";
import { layOutSeason } from "../../src/season/season.ts";
import { handPlan } from "../helpers/hand-plan.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { randomSpec, toTree } from "../helpers/random-plan.ts";
import { slow } from "../helpers/seeds.ts";

const built = (plan: Plan) => buildProgram(plan, layOutSeason(plan));

/** The plan with one of its weights larger by `kg`. */
function changed(plan: Plan, handle: Handle, kg: number): Plan {
  if (handle.kind === "stock")
    return {
      ...plan,
      amendments: plan.amendments.map((a) => (a.id === handle.id ? { ...a, stockKg: a.stockKg + kg } : a)),
    };
  if ("nutrient" in handle) {
    const field = {
      need: "minKg",
      "season-max": "maxKg",
      "applied-max": "appliedMaxKg",
      "ahead-max": "aheadMaxKg",
    } as const;
    const more = (demand: Demand): Demand => ({
      ...demand,
      [field[handle.kind]]: demand[field[handle.kind]]! + kg,
    });
    return { ...plan, demands: plan.demands.map((d) => (d.nutrient === handle.nutrient ? more(d) : d)) };
  }
  const field = handle.kind === "min" ? "minKg" : "maxKg";
  return {
    ...plan,
    limits: plan.limits.map((limit) =>
      "id" in handle && limit.id === handle.id ? { ...limit, [field]: limit[field]! + kg } : limit,
    ),
  };
}

describe("the move of a weight", () => {
  slow("changes the rows as a plan does in which it is larger", () => {
    const seen = new Set<string>();
    for (let seed = 1; seed <= 60; seed++) {
      const plan = loadTree(toTree(randomSpec(seed), seed));
      const program = built(plan);
      const stock = plan.amendments
        .filter((a) => a.stockKg > 0)
        .map(({ id }): Handle => ({ kind: "stock", id }));
      for (const handle of [...demandHandles(plan), ...stock]) {
        if (handle.kind === "min-share" || handle.kind === "max-share") continue;
        const move = moveOf(plan, program, handle);
        if (move.kind !== "bounds") throw new Error("a weight moves bounds");
        const after = built(changed(plan, handle, 0.25));
        expect(after.rows).toHaveLength(program.rows.length);
        program.rows.forEach((row, i) => {
          for (const side of ["lower", "upper"] as const)
            if (Number.isFinite(row[side]) && row[side] !== after.rows[i]![side])
              expect(after.rows[i]![side], `seed ${seed}, ${handle.kind}, row ${i}`).toBeCloseTo(
                row[side] + 0.25 * move.rate[i]!,
                9,
              );
            else if (move.rate[i] === 0) expect(after.rows[i]![side]).toBe(row[side]);
        });
        seen.add(handle.kind);
      }
    }
    expect([...seen].sort()).toEqual([
      "ahead-max",
      "applied-max",
      "max",
      "min",
      "need",
      "season-max",
      "stock",
    ]);
  });
});

describe("a price", () => {
  const twoBlends = {
    blend: "each",
    applications: [
      { name: "planting", day: 0 },
      { name: "later", day: 50 },
    ],
  };
  const need = { need: { per: "bed", N: "1 kg" } };

  it("is carried by the use in every blend", () => {
    const plan = handPlan({ meal: { analysis: { N: 10 }, price: 2 } }, need, twoBlends);
    const program = built(plan);
    expect(priceColumns(plan, program, "meal").map((j) => program.columns[j]!.tag)).toEqual([
      { kind: "use", id: "meal", application: 0 },
      { kind: "use", id: "meal", application: 1 },
    ]);
    expect(moveOf(plan, program, { kind: "price", id: "meal" })).toEqual({ kind: "cost", rate: [1, 1] });
  });

  it("is carried by what is bought beyond stock", () => {
    const plan = handPlan({ meal: { analysis: { N: 10 }, price: 2, stock: "1 kg" } }, need, twoBlends);
    const program = built(plan);
    expect(priceColumns(plan, program, "meal").map((j) => program.columns[j]!.tag)).toEqual([
      { kind: "buy", id: "meal" },
    ]);
  });

  it("is nowhere for an amendment that is not in the plan", () => {
    const plan = handPlan({ meal: { analysis: { N: 10 }, price: 2 } }, need);
    expect(priceColumns(plan, built(plan), "no-such")).toEqual([]);
  });
});

describe("a share", () => {
  it("moves by the weight of its blend", () => {
    const plan = handPlan(
      { meal: { analysis: { N: 10 }, price: 2 }, pellets: { analysis: { N: 4 }, price: 1 } },
      { need: { per: "bed", N: "1 kg" } },
      { limits: { pellets: { min_share: "25%" } } },
    );
    const program = built(plan);
    const move = moveOf(plan, program, { kind: "min-share", id: "pellets" }, [6, 14]);
    const row = program.rows.findIndex(({ tag }) => tag.kind === "share-min");
    expect(move.rate[row]).toBe(20);
    expect(move.rate.filter((rate) => rate !== 0)).toHaveLength(1);
  });
});

describe("the numbers of a plan", () => {
  it("are those that it states", () => {
    const plan = handPlan(
      { meal: { analysis: { N: 10 }, price: 2, stock: "3 kg" } },
      { need: { per: "bed", N: { min: "1 kg", max: "2 kg" } }, applied_max: { per: "bed", P2O5: "4 kg" } },
      { limits: { meal: { max: "50 kg" } } },
    );
    expect(demandHandles(plan)).toEqual([
      { kind: "need", nutrient: "N" },
      { kind: "season-max", nutrient: "N" },
      { kind: "applied-max", nutrient: "P2O5" },
      { kind: "max", id: "meal" },
    ]);
    expect(demandHandles(plan).map((handle) => numberOf(plan, handle))).toEqual([1, 2, 4, 50]);
    expect(numberOf(plan, { kind: "stock", id: "meal" })).toBe(3);
    expect(numberOf(plan, { kind: "stock", id: "no-such" })).toBeNull();
    expect(numberOf(plan, { kind: "need", nutrient: "K2O" })).toBeNull();
    expect(numberOf(plan, { kind: "min", id: "meal" })).toBeNull();
  });
});
