/** `solve`, `shop` and `card` are one answer: the same total, packs and weights, as a separate program in HiGHS finds them. */
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it, vi } from "vitest";
import { main } from "../../src/cli.ts";
import { solvePlan } from "../../src/flow/answer.ts";
import type { CardJson } from "../../src/results/card.ts";
import type { Solution } from "../../src/results/solution.ts";
import { planOf } from "../helpers/check-bags.ts";
import { highsTotal, specOf } from "../helpers/reference-shop.ts";
import { ALL_ANSWERS, answerSeeds, seeds } from "../helpers/seeds.ts";
import { DEMO, load } from "../helpers/shop.ts";
import { testWorld } from "../helpers/world.ts";

vi.setConfig({ testTimeout: 240_000 });

const folder = mkdtempSync(join(tmpdir(), "barrowmix-agree-"));
/** What was compared, printed by the check: a case that the other program does not end in its time is none. */
const tally = { totals: 0, impossible: 0, open: 0, agreed: 0 };
afterAll(() => {
  rmSync(folder, { recursive: true });
  if (ALL_ANSWERS) console.log("answers compared:", tally);
});

async function json<T>(args: readonly string[], stdin = ""): Promise<T> {
  const world = testWorld({ cwd: folder, stdin });
  await main([...args, "--json"], world);
  return JSON.parse(world.written.stdout) as T;
}

/** Packs by amendment, as text. */
const packsIn = ({ purchases }: Solution): string[] =>
  purchases.flatMap(({ id, packs, bulkKg }) => [
    ...packs.map(({ count, sizeKg, price }) => `${count} x ${sizeKg} kg ${id} at ${price}`),
    ...(bulkKg > 0 ? [`${bulkKg} kg ${id}`] : []),
  ]);

async function agree(solved: Solution, source: readonly string[], stdin = "") {
  const shop = await json<Solution>(["shop", ...source], stdin);
  const card = await json<CardJson>(["card", ...source], stdin);
  expect(shop.cost.total).toBe(solved.cost.total);
  expect(packsIn(shop)).toEqual(packsIn(solved));
  const listed = (mixes: readonly { batches: { weights: readonly { id: string; kg: number }[] } }[]) =>
    mixes.map(({ batches }) => batches.weights.map(({ id, kg }) => `${kg} ${id}`));
  expect(listed(shop.mixes)).toEqual(listed(solved.mixes));
  expect(card.mixes.map(({ weights }) => weights.map(({ id, kg }) => `${kg} ${id}`))).toEqual(
    listed(solved.mixes),
  );
  expect(card.mixes.map(({ batches }) => batches)).toEqual(solved.mixes.map(({ batches }) => batches.count));
  // What is weighed out was bought, or lay in the shed.
  for (const { usedKg, boughtKg, stockKg } of solved.purchases)
    expect(usedKg).toBeLessThanOrEqual((boughtKg + stockKg) * (1 + 1e-6) + 1e-9);
  tally.agreed += 1;
}

/** What the page says the same bags can do is had for the same money by the flag that it names. */
async function keepsItsWord(file: string): Promise<boolean> {
  const world = testWorld({ cwd: folder });
  await main(["solve", file], world);
  const named = /With these bags used up: \d+ of \d+ \(`(--sure \d+%)`\)/.exec(
    world.written.stdout.replace(/\s+/g, " "),
  );
  if (!named) return false;
  const plain = await json<Solution>(["solve", file]);
  const surer = await json<Solution>(["solve", file, ...named[1]!.split(" ")]);
  expect(packsIn(surer)).toEqual(packsIn(plain));
  return true;
}

const count = (least: number | null | undefined): void => {
  tally[least === undefined ? "open" : least === null ? "impossible" : "totals"] += 1;
};

describe("solve, shop and card", () => {
  it("agree on the demo", async () => {
    const solved = await json<Solution>(["solve", DEMO]);
    expect(solved.cost.total).toBeCloseTo((await highsTotal(specOf(load(DEMO))))!, 2);
    await agree(solved, [DEMO]);
    expect(await keepsItsWord(DEMO)).toBe(true);
  });

  const CROPS =
    "beet broccoli cabbage carrot celery cucumber eggplant garlic kale lettuce muskmelon onion pea pepper"
      .split(" ")
      .concat("potato snap-bean spinach squash strawberry sweet-corn tomato watermelon".split(" "));
  it.each(answerSeeds(["pepper"], CROPS))("agree on the starter of %s", async (crop) => {
    const begun = ["init", crop, "--recipe", crop, "--area", "1500 sq ft", "--plants", "240", "--yes"];
    const code = await main(begun, testWorld({ cwd: folder }));
    expect(code).toBe(0);
    const file = join(folder, crop, "plan.yaml");
    const solved = await json<Solution>(["solve", file]);
    const least = await highsTotal(specOf(load(file)));
    count(least);
    // Where a cap has to give way, how far is not the question of the separate program.
    const gave = solved.beds[0]!.warnings.some(
      ({ code }) => code === "cap-gave-way" || code === "phosphorus-unavoidable",
    );
    if (least === null) expect(gave || solved.status === "infeasible").toBe(true);
    else if (least !== undefined) expect(solved.cost.total).toBeCloseTo(least, 2);
    if (solved.status === "optimal") await agree(solved, [file]);
    await keepsItsWord(file);
  });

  it.each(
    answerSeeds(
      seeds([301], [301, 302]),
      Array.from({ length: 60 }, (_, k) => k + 301),
    ),
  )("agree on random plan %i", async (seed) => {
    const { plan, spec } = planOf(seed);
    const solved = await solvePlan(plan);
    const least = await highsTotal(spec);
    count(least);
    if (least === null) expect(solved.status).toBe("infeasible");
    if (solved.status !== "optimal") return;
    if (least !== undefined) expect(solved.cost.total).toBeCloseTo(least!, 2);
    const piped = await json<Solution>(["solve", "-"], JSON.stringify(solved));
    await agree(piped, ["-"], JSON.stringify(piped));
  });
});
