/** Charts in plain signs and as SVG: where their lines run, how wide they are, and that they need nothing else. */
import { describe, expect, it } from "vitest";
import { main } from "../../src/cli.ts";
import { chartSvg } from "../../src/render/svg-chart.ts";
import { chartLines } from "../../src/render/text-chart.ts";
import type { Chart } from "../../src/report/report.ts";
import { heightAt } from "../../src/report/report.ts";
import { slow } from "../helpers/seeds.ts";
import { testWorld } from "../helpers/world.ts";

const chart: Chart = {
  title: "N <b>",
  x: { from: 0, to: 100, ticks: [0, 50, 100].map((at) => ({ at, text: String(at) })) },
  y: { from: 0, to: 8, ticks: [0, 4, 8].map((at) => ({ at, text: `${at} lb` })) },
  series: [
    {
      kind: "shade",
      name: "needed",
      points: [
        [0, 0],
        [100, 4],
      ],
    },
    {
      kind: "line",
      name: "available",
      points: [
        [0, 8],
        [100, 8],
      ],
    },
  ],
  marks: [{ at: 0 }, { at: 50 }],
  markName: "spread",
};

describe("a chart in plain signs", () => {
  it("has its line at its height, its shade below, its marks on their days", () => {
    const lines = chartLines(chart, 60, true);
    expect(lines[0]).toMatch(/^8 lb \+\*+$/);
    // The shade reaches the middle at the right edge, and only there.
    expect(lines[4]).toMatch(/^4 lb \+ +\.+$/);
    expect(lines[8]).toMatch(/^0 lb \+ *\.+$/);
    const floor = lines[9]!;
    const columns = 60 - 6;
    expect([...floor.matchAll(/\^/g)].map(({ index }) => index - 6)).toEqual([
      0,
      Math.round((columns - 1) / 2),
    ]);
    expect(lines.at(-1)).toContain(". needed   * available   ^ spread");
  });

  it("fits the width, in ASCII where that is asked for", () => {
    for (const width of [58, 64, 76, 78, 120])
      for (const ascii of [true, false]) {
        const lines = chartLines(chart, width, ascii);
        for (const line of lines) expect([...line].length).toBeLessThanOrEqual(Math.min(width, 78));
        expect(lines.every((line) => /^[\x20-\x7e]*$/.test(line))).toBe(ascii);
      }
  });

  it("reads heights between points, and none outside", () => {
    expect(
      heightAt(
        [
          [0, 0],
          [10, 5],
        ],
        4,
      ),
    ).toBe(2);
    expect(
      heightAt(
        [
          [0, 0],
          [10, 5],
        ],
        11,
      ),
    ).toBeNull();
    expect(heightAt([], 0)).toBeNull();
  });
});

describe("a chart as SVG", () => {
  it("puts points where they belong and says in words what is what", () => {
    const svg = chartSvg(chart);
    // The plot runs from x 52 to 350 and from y 126 up to 8.
    expect(svg).toContain('class="supply" d="M52 8L350 8"');
    expect(svg).toContain('class="need" d="M52 126L350 67L350 126L52 126Z"');
    expect(svg).toContain("<b>N &lt;b&gt;</b>");
    expect(svg.match(/class="mark"/g)).toHaveLength(2);
    expect(svg).toContain("shade: needed; line: available; triangles: spread");
    expect(svg).not.toMatch(/<script|href|url\(|NaN/);
  });
});

describe("pictures of a plan", () => {
  const PLAN = "examples/brassica-terraces/plan.yaml";
  const printed = async (args: readonly string[], env: Record<string, string> = {}) => {
    const world = testWorld({ env });
    expect(await main(args, world), world.written.stderr).toBe(0);
    return world.written.stdout;
  };

  slow("are drawn by solve --chart, at most 78 wide, in ASCII where the terminal has no more", async () => {
    const text = await printed(["solve", PLAN, "--chart"]);
    expect(text).toContain("Supply against need");
    expect(text).toContain("▲ spread");
    for (const line of text.split("\n")) expect([...line].length, line).toBeLessThanOrEqual(80);
    expect(await printed(["solve", PLAN, "--chart"], { LANG: "C" })).toMatch(/^[\x20-\x7e\n]*$/);
    expect(await printed(["solve", PLAN])).not.toContain("Supply against need");
  });

  it("come with JSON as numbers", async () => {
    const [{ curves }] = JSON.parse(await printed(["solve", PLAN, "--chart", "--json"])).beds;
    expect(curves.map((curve: { nutrient: string }) => curve.nutrient)).toEqual([
      "N",
      "P2O5",
      "K2O",
      "Mg",
      "S",
    ]);
  });

  slow("leave every report's page without script", async () => {
    for (const args of [
      ["solve", PLAN],
      ["card", PLAN],
      ["shop", PLAN],
      ["assay", "examples/brassica-terraces/mix.yaml"],
      ["whatif", PLAN, "--exclude", "feather-meal"],
      ["sweep", PLAN, "--price", "feather-meal", "--from", "-10%", "--to", "+10%", "--steps", "2"],
      ["check", PLAN],
      ["list", "crops"],
    ]) {
      const html = await printed([...args, "--format", "html"]);
      expect(html, args.join(" ")).toMatch(/^<!doctype html>[\s\S]*<\/html>\n$/);
      expect(html).not.toMatch(/<script|<link|<img|https?:\/\/(?!www\.w3)|url\(|@import|NaN|undefined/);
      // A card is to weigh by: no pictures. The season is drawn where there is room for it.
      if (args[0] === "solve") expect(html).toContain("<svg");
      if (args[0] === "card" || args[0] === "shop") expect(html).not.toContain("<svg");
    }
  });
});
