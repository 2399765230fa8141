/** Runs the measures named on the command line, or all, and prints their figures beside their goals. */
import { cold } from "./cold.ts";
import { farm } from "./farm.ts";
import { few } from "./few.ts";
import { large } from "./large.ts";
import { many } from "./many.ts";
import type { Benchmark, Figure } from "./measure.ts";
import { scaling } from "./scaling.ts";
import { sure } from "./sure.ts";
import { sweep } from "./sweep.ts";

const BENCHMARKS: readonly Benchmark[] = [cold, many, large, scaling, few, sweep, sure, farm];

function verdict({ value, goal }: Figure): string {
  if (!goal) return "";
  const met = goal.at === "most" ? value <= goal.value : value >= goal.value;
  return `goal: at ${goal.at} ${goal.value.toLocaleString("en-US")}, ${met ? "met" : "NOT MET"}`;
}

const wanted = process.argv.slice(2);
const unknown = wanted.filter((name) => !BENCHMARKS.some((benchmark) => benchmark.name === name));
if (unknown.length > 0) {
  console.error(
    `no such measure: ${unknown.join(", ")}; there are: ${BENCHMARKS.map((b) => b.name).join(", ")}`,
  );
  process.exitCode = 2;
} else {
  for (const benchmark of BENCHMARKS) {
    if (wanted.length > 0 && !wanted.includes(benchmark.name)) continue;
    for (const figure of await benchmark.run(process.cwd())) {
      const value = figure.value.toLocaleString("en-US", { maximumSignificantDigits: 4 });
      console.log(`${figure.name.padEnd(28)} ${value} ${figure.unit}  ${verdict(figure)}`);
      console.log(`${"".padEnd(28)} ${figure.detail}`);
    }
  }
}
