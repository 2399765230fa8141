/** The sheet for the shed wall: what is weighed and given, boxes to tick, and nothing that is false or of no use there. */
import { describe, expect, it } from "vitest";
import { main } from "../../src/cli.ts";
import { type AnswerOptions, solvePlans } from "../../src/flow/answer.ts";
import { renderCardHtml } from "../../src/render/card.ts";
import { boldWidth } from "../../src/render/letter-widths.ts";
import { renderMarkdown } from "../../src/render/markdown.ts";
import { cardReport } from "../../src/report/card-report.ts";
import { cardJson, cardOf } from "../../src/report/card-sheet.ts";
import type { Solution } from "../../src/results/solution.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { testWorld } from "../helpers/world.ts";

const material = (name: string, analysis: Record<string, number>, price: number) => ({
  name,
  analysis,
  packs: [{ size: "1 lb", price }],
  release: "at-once",
  density: "0.6 kg/L",
  kind: "animal",
});
/** 3 lb of N and 2 lb of K2O: 50 lb of the meal and 4 lb of the salt, half of each at planting. */
const tree = (more = {}) => ({
  plan: 'Beds <north> & "south"',
  amendments: {
    meal: material("Meal <b>fine</b>", { N: 6 }, 1),
    salt: material("Potash | salt", { K2O: 50 }, 1),
  },
  target: { target: "Crop", season: "100 days", need: { per: "bed", N: "3 lb", K2O: "2 lb" } },
  bed: { plants: 100, rows: 2, row_length: "50 ft" },
  applications: [
    { name: "planting", day: 0, share: "50%" },
    { name: "later", day: 40, share: "50%" },
  ],
  batch: { size: "30 lb" },
  scale: "0.25 lb",
  ...more,
});

async function solved(more = {}, options: AnswerOptions = {}): Promise<Solution> {
  const found = await solvePlans([loadTree(tree(more))], options);
  if (!found.ok) throw new Error(found.problems.map(({ message }) => message).join("; "));
  return found.value;
}
const page = async (more = {}, options: AnswerOptions = {}) =>
  renderCardHtml(cardOf(await solved(more, options)));
const markdown = async (more = {}) => renderMarkdown(cardReport(await solved(more)));

describe("the card", () => {
  it("is one sheet for one mix, with a box for every weighing and every batch", async () => {
    const html = await page();
    expect(html.match(/<article/g)).toHaveLength(1);
    // 50 lb and 4 lb in two batches; each of the two batches has a box for both weights and one for being done.
    for (const weight of ["25.00&nbsp;lb", "2.00&nbsp;lb", "27.00&nbsp;lb"]) expect(html).toContain(weight);
    expect(html.match(/class="box"/g)).toHaveLength(4);
    // Each of the two rounds is signed for: when, how much, by whom, of which lot.
    expect(html.match(/class="sign"/g)).toHaveLength(2);
    for (const place of ["spread on", "lb spread", "by", "bag lots"])
      expect(html.split(`<span>${place}</span>`)).toHaveLength(3);
    // Two weights have room at 40 points, their measures too.
    expect(html).toContain('style="--size:40pt;--loose:40pt;--given:24pt;--sign:25pt"');
    expect(html).toMatch(/2 batches of 27\.00&nbsp;lb, all alike/);
    for (const when of ["planting, day&nbsp;0", "later, day&nbsp;40"]) expect(html).toContain(when);
    // Both rounds give the same: it is said once.
    expect(html.match(/>1&nbsp;batch<\/td>/g)).toHaveLength(1);
  });

  it("names what is signed for by its date where planting has one", async () => {
    const html = await page({ planted: "2027-05-15" });
    for (const when of ["planting, May&nbsp;15", "later, Jun&nbsp;24"]) expect(html).toContain(when);
  });

  it("prints smaller, but never under 24 points, what is much; what has no room is given on the next sheet", async () => {
    const applications = Array.from({ length: 20 }, (_, k) => ({
      name: `round ${k + 1}`,
      day: 4 * k,
      share: "5%",
    }));
    const html = await page({ applications, planted: "2027-05-15" });
    expect(html.match(/<article/g)!.length).toBeGreaterThanOrEqual(1);
    for (const [, size, loose] of html.matchAll(/--size:(\d+)pt;--loose:(\d+)pt/g)) {
      expect(Number(size)).toBeGreaterThanOrEqual(24);
      expect(Number(loose)).toBeGreaterThanOrEqual(24);
    }
    expect(html.match(/class="sign"/g)).toHaveLength(20);
  });

  it("judges the width of a text by the letters of Helvetica bold", () => {
    // Adobe Core 14 metrics, Helvetica-Bold [memory]: T 611, h 611, e 556, space 278, 3 556, full stop 278, l 278, b 611.
    expect(boldWidth("The", 10)).toBeCloseTo(17.78, 9);
    expect(boldWidth("3.3 lb", 1000)).toBe(556 + 278 + 556 + 278 + 278 + 611);
    expect(boldWidth("\u00e9", 1000)).toBe(556);
    expect(boldWidth("\u7518", 1000)).toBe(1000);
  });

  it("names no bags, no charts, no commands and no figures an acre", async () => {
    const text = (await page({ sure: { N: "90%" } })).replace(/<style>[\s\S]*<.style>/, "");
    expect(text).not.toMatch(/\bbags? of\b|<svg|barrowmix|\s--\w|`|acre/);
  });

  it("says how sure the needs are that it is made for", async () => {
    expect(await page()).toContain("in about 5 seasons of 10");
    const sure = await solved({ sure: { N: "90%" } });
    expect(renderCardHtml(cardOf(sure))).toContain("in about 9 seasons of 10");
    expect(cardJson(sure).takeCare.join(" ")).toContain("in about 9 seasons of 10");
  });

  it("says which materials the scale rounds away, since their line is missing", async () => {
    // 4 lb of the salt in ten batches is 0.4 lb in each: nothing on a scale of a pound, so it is weighed once, or said.
    const solution = await solved({ scale: "1 lb", batch: { size: "6 lb" } });
    const html = renderCardHtml(cardOf(solution));
    const salt = cardJson(solution).mixes[0]!.weights.find(({ id }) => id === "salt");
    expect(salt).toMatchObject({ once: true, text: "4 lb" });
    expect(html).toContain("4&nbsp;lb");
    expect(html).toMatch(/all batches/);
    expect(await page()).not.toContain("once for all");
  });

  it("names a round once that is called by its day", async () => {
    const applications = [
      { name: "planting", day: 0, share: "50%" },
      { name: "day 40", day: 40, share: "50%" },
    ];
    const html = await page({ applications });
    expect(html).toContain("day&nbsp;40");
    expect(html).not.toMatch(/day.40, ?day.40/);
  });

  it("says what each 100 sq ft gets where the bed has neither plants nor rows", async () => {
    // 27 lb over 600 sq ft is 4.5 lb on 100 sq ft; loose at 0.6 kg/L that is 3.40 L, or 14.4 cups: no single vessel.
    const html = await page({ bed: { area: "600 sq ft" } });
    expect(html).toContain("Each 100 sq ft");
    expect(html).toContain("4.5&nbsp;lb");
  });

  it("is a sheet for each mix where they differ, in the order they are needed", async () => {
    const html = await page({
      blend: "each",
      target: {
        target: "Crop",
        season: "100 days",
        need: { per: "bed", N: "3 lb", K2O: "2 lb" },
        uptake: { N: { 40: "50%", 100: "100%" } },
      },
      limits: { salt: { not_in: ["planting"] }, meal: { max: "50 lb" } },
    });
    expect(html.match(/<article/g)).toHaveLength(2);
    expect(html.indexOf("planting, day&nbsp;0")).toBeLessThan(html.indexOf("later, day&nbsp;40"));
  });

  it("says in bold that it is by weight, and not the purchase", async () => {
    expect(await page({}, { by: "weight" })).toMatch(/<p class="weight">BY WEIGHT/);
    expect(await page()).not.toContain("BY WEIGHT");
  });

  it("escapes what people write, and needs nothing from outside", async () => {
    const html = await page();
    expect(html).not.toContain("<b>fine</b>");
    expect(html).not.toContain("<north>");
    expect(html).toContain("Beds &lt;north&gt; &amp; &quot;south&quot;");
    expect(html).not.toMatch(/<script|<link|<img|https?:|url\(|@import/);
    expect(html).not.toMatch(/NaN|undefined|Infinity/);
    expect(html.match(/background/g)).toHaveLength(1);
  });

  it("has a JSON whose weights add up to a batch, and whose rounds take all batches", async () => {
    const { schema, mixes, rounds } = cardJson(await solved());
    expect(schema).toBe("barrowmix.card/2");
    const [mix] = mixes;
    expect(mix!.weights.map(({ id, text }) => [id, text])).toEqual([
      ["meal", "25.00 lb"],
      ["salt", "2.00 lb"],
    ]);
    expect(mix!.weights.reduce((sum, { kg }) => sum + kg, 0)).toBeCloseTo(mix!.kgEach, 9);
    // Of 54 lb: 3 lb of N is 5.6 %, 2 lb of K2O 3.7 %.
    expect(mix!.grade).toBe("5.6-0-3.7");
    expect(rounds.map(({ name, day, take }) => [name, day, take])).toEqual([
      ["planting", 0, "1 batch"],
      ["later", 40, "1 batch"],
    ]);
    expect(rounds.reduce((sum, { batchesTaken }) => sum + batchesTaken, 0)).toBeCloseTo(mix!.batches, 9);
  });

  it("counts boxes that would be too many to draw", async () => {
    expect(await page({ batch: { size: "1 lb" }, scale: "0.01 lb" })).toContain("____ of 54");
  });

  it("prints as Markdown with boxes to tick", async () => {
    const text = await markdown();
    expect(text).toMatch(/\| 25\.00 lb \| Meal .* \| ☐ 1 {2}☐ 2 \|/);
    expect(text).toContain(
      "| Give | Each plant | Take | Spread on | Pounds spread | Spread by | Lot numbers on the bags |",
    );
    expect(text).toContain("keep the mix dry");
  });

  it("says that nothing needs to be mixed where nothing is needed", async () => {
    const credits = [{ from: "compost", per: "bed", N: "4 lb", K2O: "3 lb", day: -10 }];
    expect(await page({ credits })).toContain("Nothing needs to be mixed");
    expect(await markdown({ credits })).toContain("Nothing needs to be mixed");
  });
});

describe("the card command", () => {
  const run = async (...args: string[]) => {
    const world = testWorld({ cwd: new URL("../../examples/brassica-terraces", import.meta.url).pathname });
    const code = await main(["card", "plan.yaml", ...args], world);
    return { code, ...world.written };
  };
  it("prints Markdown unless asked for a page", async () => {
    expect((await run()).stdout).toMatch(/^# Batch card: /);
    expect((await run("--html")).stdout).toMatch(/^<!doctype html>/);
    expect((await run("--format", "html")).stdout).toMatch(/^<!doctype html>/);
    const both = await run("--html", "--format", "md");
    expect(both.code).toBe(2);
    expect(both.stderr).toContain("not both");
  });
});
