/**
 * Published figures against what the command lines arrive at, each with its source. `README.md` beside this file is written
 * from the same list: `npx vitest run tests/published -u` writes it again, to be read in review.
 */
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { ROOT } from "../helpers/world.ts";
import { BAGS } from "./bags.ts";
import { type Check, run } from "./check.ts";
import { GREEN_MANURES, TOMATO_BED } from "./green-manure.ts";
import { MATERIALS } from "./materials.ts";
import { PROGRAMS } from "./programs.ts";
import { SOIL_AND_WATER } from "./soil-and-water.ts";
import { THIRD_ROUND } from "./third-round.ts";

const CHAPTERS: readonly (readonly [string, readonly Check[]])[] = [
  ["Bags and weights", BAGS],
  ["Water, rain, soil tests and crops", [...SOIL_AND_WATER, ...GREEN_MANURES, ...TOMATO_BED]],
  ["Materials", MATERIALS],
  ["Manures, recommendations and worked examples", THIRD_ROUND],
  ["Least cost", PROGRAMS],
];
const CHECKS = CHAPTERS.flatMap(([, checks]) => checks);

const got = new Map<Check, number>();

const digits = (value: number): string => String(Number(value.toPrecision(4)));
const published = ({ expected }: Check): string =>
  typeof expected === "number" ? digits(expected) : expected.map(digits).join(" to ");

describe("published figures", () => {
  it("are many, and each has a source", () => {
    expect(CHECKS.length).toBeGreaterThanOrEqual(200);
    for (const check of CHECKS) expect(check.source.length).toBeGreaterThan(15);
    // A band wider than the printed digits has its reason beside it.
    for (const { within, expected, why, standing, what } of CHECKS)
      if (
        typeof expected === "number" &&
        within > 0.08 * Math.abs(expected) &&
        standing !== "memory" &&
        expected > 1
      )
        expect(why, what).toBeDefined();
  });

  it.each(CHECKS.map((check) => [check.what, check] as const))("%s", async (_, check) => {
    const value = await run(check);
    got.set(check, value);
    const [low, high] =
      typeof check.expected === "number" ? [check.expected, check.expected] : check.expected;
    expect(value).toBeGreaterThanOrEqual(low - check.within);
    expect(value).toBeLessThanOrEqual(high + check.within);
  });

  it("stand in README.md", async () => {
    // Run together with the rest: alone, there would be nothing to write.
    expect(got.size).toBe(CHECKS.length);
    const chapter = ([title, checks]: (typeof CHAPTERS)[number]): string =>
      [
        `## ${title}`,
        "",
        "| check | command | source | standing | expected | got |",
        "|---|---|---|---|---|---|",
        ...checks.map((check) =>
          [
            "",
            check.what.replaceAll("|", "/"),
            `\`${check.args[0]}\``,
            `${check.source}${check.why === undefined ? "" : ` (${check.why})`}`,
            check.standing,
            `${published(check)} ${check.unit}`,
            `${digits(got.get(check)!)} ${check.unit}`,
            "",
          ]
            .join(" | ")
            .trim(),
        ),
        "",
      ].join("\n");
    const text = [
      "# Published figures",
      "",
      "What is printed elsewhere, and what the command line arrives at. This file is written by `published.test.ts` from the list",
      "that it checks. Standing: `seen`, the figure stood in a text that was read; `computed`, it was worked out by the rule or from the",
      "figures of such a text; `secondary`, it was quoted by another; `memory`, it, or a part of it, was not seen.",
      "",
      ...CHAPTERS.map(chapter),
    ].join("\n");
    await expect(text).toMatchFileSnapshot(join(ROOT, "tests/published/README.md"));
  });
});
