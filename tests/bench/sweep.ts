/** Sweeps of the demo in 1,000 steps, every value proven, against HiGHS solving the same programs one by one. */
import { join } from "node:path";
import { loadPlan } from "../../src/files/load.ts";
import { type SweepRequest, sweepPlan, sweepProgram } from "../../src/flow/sweep.ts";
import { loadHighs, modelOf } from "../../src/solver/engine-highs.ts";
import { movedProgram } from "../../src/solver/parametric.ts";
import { diskReader } from "../helpers/files.ts";
import { type Benchmark, check, type Figure, median } from "./measure.ts";

const STEPS = 1000;
const ROUNDS = 7;
/** HiGHS takes so long for one round that fewer will do. */
const HIGHS_ROUNDS = 3;

export const sweep: Benchmark = {
  name: "sweep",
  async run(root) {
    const loaded = loadPlan(diskReader, {
      planFile: join(root, "examples/brassica-terraces/plan.yaml"),
      cwd: root,
      recipesDir: join(root, "recipes"),
    });
    check(loaded.ok, "the demo loads");
    if (!loaded.ok) return [];
    const { plan } = loaded.value;
    const needKg = plan.demands.find(({ nutrient }) => nutrient === "N")!.minKg;
    const common = { steps: STEPS, understood: "" };
    const requests: SweepRequest[] = [
      { handle: { kind: "price", id: "feather-meal" }, from: 0.4, to: 4, ...common },
      { handle: { kind: "need", nutrient: "N" }, from: 0.4 * needKg, to: 1.5 * needKg, ...common },
      { handle: { kind: "applied-max", nutrient: "P2O5" }, from: 1.41, to: 2.5, ...common },
    ];
    const highs = await loadHighs();
    const leastCost = (data: ReturnType<typeof modelOf>): number =>
      highs.withModel(data, (model) => {
        model.options.set({ output_flag: false });
        model.run();
        return Number(model.info.get("objective_function_value"));
      });
    const figures: Figure[] = [];
    for (const request of requests) {
      const { program, move } = sweepProgram(plan, request);
      const models = Array.from({ length: STEPS + 1 }, (_, k) =>
        modelOf(movedProgram(program, move, ((request.to - request.from) * k) / STEPS)),
      );
      const answer = await sweepPlan(plan, request);
      const name = answer.what;
      check(answer.points.length === STEPS + 1, `${name} has every value`);
      check(answer.verification.maxGap <= 1e-6, `${name} is proven at every value`);
      answer.points.forEach(({ total }, k) => {
        const other = leastCost(models[k]!);
        check(
          total !== null && Math.abs(total - other) <= 1e-6 * Math.max(1, total),
          `${name}, value ${k}, costs what HiGHS says`,
        );
      });
      const own: number[] = [];
      const one: number[] = [];
      for (let round = 0; round < ROUNDS; round++) {
        let begun = performance.now();
        await sweepPlan(plan, request);
        own.push(performance.now() - begun);
        if (round >= HIGHS_ROUNDS) continue;
        begun = performance.now();
        for (const model of models) leastCost(model);
        one.push(performance.now() - begun);
      }
      const rate = (STEPS + 1) / (median(own) / 1000);
      const highsRate = (STEPS + 1) / (median(one) / 1000);
      figures.push(
        {
          name: `sweep of ${name}`,
          value: rate,
          unit: "verified cases per second",
          goal: { at: "least", value: 50_000 },
          detail: `${STEPS + 1} values in ${median(own).toFixed(1)} ms, ${answer.breakpoints.length} breakpoints`,
        },
        {
          name: "",
          value: rate / highsRate,
          unit: "x HiGHS one by one",
          goal: { at: "least", value: 25 },
          detail: `HiGHS: ${highsRate.toFixed(0)} a second, its models ready as data`,
        },
      );
    }
    return figures;
  },
};
