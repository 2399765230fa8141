import { describe, expect, it } from "vitest";
import { main } from "../../src/cli.ts";
import { solvePlan } from "../../src/flow/blend.ts";
import { renderCardHtml } from "../../src/render/card.ts";
import { renderMarkdown } from "../../src/render/markdown.ts";
import { renderTerminal } from "../../src/render/terminal.ts";
import { cardReport } from "../../src/report/card-report.ts";
import { cardJson, sourceOf } from "../../src/report/card-sheet.ts";
import { solutionReport } from "../../src/report/solution-report.ts";
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
/** 3 lb of N and 2 lb of K2O: 50 lb of the meal and 4 lb of the salt. */
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

describe("the batch card", () => {
  it("is one card where applications are mixed alike, with boxes for each weighing and batch", async () => {
    const html = renderCardHtml([sourceOf(await solvePlan(loadTree(tree())))]);
    expect(html.match(/<article/g)).toHaveLength(1);
    // 25 lb and 2 lb of the 27 lb that each application takes; two weighings and one batch twice: four boxes.
    expect(html).toContain("25.00 lb");
    expect(html).toContain("2.00 lb");
    expect(html).toContain("27.00 lb");
    expect(html.match(/class="tick"/g)).toHaveLength(4);
    expect(html).toContain("planting, day 0: make 1 batch");
    expect(html).toContain("later, day 40: make 1 batch");
    // Of 27 lb: 1.5 lb N is 5.6 %, 1 lb K2O is 3.7 %.
    expect(html).toContain("<b>5.6-0-3.7</b>");
  });

  it("names the bags that are bought and no others", async () => {
    // 25 lb of the meal go into each of two batches; one 50 lb bag is cheaper than fifty bags of a pound.
    const { amendments } = tree();
    const packs = [
      { size: "1 lb", price: 1 },
      { size: "50 lb", price: 10 },
    ];
    const solution = await solvePlan(
      loadTree(tree({ amendments: { ...amendments, meal: { ...amendments.meal, packs } } })),
    );
    expect(solution.purchases.find(({ id }) => id === "meal")?.packs).toMatchObject([{ count: 1 }]);
    const lines = renderMarkdown(cardReport([sourceOf(solution)])).split("\n");
    expect(lines.find((line) => line.includes("Meal"))).not.toContain("bag");
    expect(lines.find((line) => line.includes("Potash"))).toContain("2 bags of 1 lb");
  });

  it("says where its weights, rounded to the scale, take more than was bought", async () => {
    // 100 kg of meal hold the 10 kg of N. In three batches they are 33.33 kg each, on this scale 33.5 kg: 100.5 kg in all.
    const bag = {
      name: "Meal",
      analysis: { N: 10 },
      packs: [{ size: "50 kg", price: 45 }],
      release: "at-once",
    };
    const plan = (scale: string) => ({
      plan: "Bed",
      units: "metric",
      amendments: { meal: bag },
      target: { target: "Crop", season: "100 days", need: { per: "bed", N: "10 kg" } },
      bed: { area: "1000 m2" },
      batch: { size: "40 kg" },
      scale,
    });
    const card = async (scale: string): Promise<string> => {
      const world = testWorld({ stdin: JSON.stringify(plan(scale)) });
      expect(await main(["card", "--bought", "-"], world), world.written.stderr).toBe(0);
      return world.written.stdout;
    };
    expect(await card("0.5 kg")).toContain("the batches take 500 g more Meal than there is");
    expect(await card("1 g")).not.toContain("more Meal than there is");
  });

  it("says what it is made for: the needs that are asked to be sure, or each", async () => {
    const plain = sourceOf(await solvePlan(loadTree(tree())));
    expect(renderMarkdown(cardReport([plain]))).toContain("Made to meet each need in about 5 seasons of 10.");
    const sure = sourceOf(await solvePlan(loadTree(tree({ sure: { N: "90%" } }))));
    const text = "Made to meet N in about 9 seasons of 10.";
    expect(renderMarkdown(cardReport([sure]))).toContain(text);
    expect(renderCardHtml([sure])).toContain(text);
    const [card] = cardJson([sure]).cards;
    expect(card!.sure!.text).toBe(text);
    expect(card!.sure!.needs.map(({ nutrient }) => nutrient)).toEqual(["N", "K2O"]);
    expect(Math.abs(card!.sure!.needs[0]!.p - 0.9)).toBeLessThan(0.01);
    // Nothing in doubt about K2O but the bag and the barrow: on its mean it is met every other season.
    expect(card!.sure!.needs[1]!.p).toBeCloseTo(0.5, 6);
  });

  it("says which amendments the scale rounds away, since their line is missing", async () => {
    // 4 lb of the salt in ten batches is 0.4 lb in each: nothing on a scale of a pound.
    const solution = await solvePlan(loadTree(tree({ scale: "1 lb", batch: { size: "6 lb" } })));
    const html = renderCardHtml([sourceOf(solution)]);
    expect(html).toContain("Potash | salt rounds to nothing in planting");
    expect(renderMarkdown(cardReport([sourceOf(solution)]))).toContain("rounds to nothing in planting");
    // Nor is the verdict on the exact weights left to are alone.
    const headline = (s: typeof solution) => JSON.stringify(solutionReport(s).summary);
    expect(headline(solution)).toContain(
      "Rounded to 1 lb this no longer holds: K2O falls 100.0% below its need",
    );
    expect(headline(await solvePlan(loadTree(tree())))).not.toContain("Rounded to");
  });

  it("names an application once that is called by its day", async () => {
    const applications = [
      { name: "planting", day: 0, share: "50%" },
      { name: "day 40", day: 40, share: "50%" },
    ];
    const html = renderCardHtml([sourceOf(await solvePlan(loadTree(tree({ applications }))))]);
    expect(html).toContain("planting, day 0: make 1 batch");
    expect(html).toContain("day 40: make 1 batch");
    expect(html).not.toContain("day 40, day 40");
  });

  it("says what each 100 sq ft gets where the bed has neither plants nor rows", async () => {
    const solution = await solvePlan(loadTree(tree({ bed: { area: "600 sq ft" } })));
    // 27 lb over 600 sq ft, loose at 0.6 kg/L: 4.5 lb and 3.40 L, which is 14.4 cups; no more than that.
    expect(renderCardHtml([sourceOf(solution)])).toContain("<b>14&nbsp;1/4&nbsp;cups (4.5&nbsp;lb)</b>");
    expect(renderCardHtml([sourceOf(solution)])).toContain("<b>600&nbsp;sq&nbsp;ft</b>");
    const text = renderTerminal(solutionReport(solution), { width: 80, colour: false });
    expect(text).toMatch(/Application +Day +Each 100 sq ft +or, loose/);
    expect(text).toMatch(/planting +0 +4\.5 lb +14 1\/4 cups/);
    expect(text).toMatch(/Ground it feeds\n.*\n.* 600 sq ft/);
    expect(text).not.toContain("Say how many plants");
  });

  it("is a card for each recipe where they differ, in the order they are needed", async () => {
    const solution = await solvePlan(
      loadTree(
        tree({
          blend: "each",
          target: {
            target: "Crop",
            season: "100 days",
            need: { per: "bed", N: "3 lb", K2O: "2 lb" },
            uptake: { N: { 40: "50%", 100: "100%" } },
          },
          limits: { salt: { not_in: ["planting"] }, meal: { max: "25 lb" } },
        }),
      ),
    );
    const html = renderCardHtml([sourceOf(solution)]);
    expect(html.match(/<article/g)).toHaveLength(2);
    expect(html.indexOf("planting, day 0")).toBeLessThan(html.indexOf("later, day 40"));
  });

  it("escapes what people write, and needs nothing from outside", async () => {
    const html = renderCardHtml([sourceOf(await solvePlan(loadTree(tree())))]);
    expect(html).not.toContain("<b>fine</b>");
    expect(html).not.toContain("<north>");
    expect(html).toContain("Beds &lt;north&gt; &amp; &quot;south&quot;");
    expect(html).not.toMatch(/<script|<link|<img|https?:|url\(|@import/);
    expect(html).not.toMatch(/NaN|undefined|Infinity/);
  });

  it("says on each card only what that application needs to mind, and leaves a line to sign", async () => {
    const solution = await solvePlan(
      loadTree(tree({ blend: "each", limits: { salt: { not_in: ["planting"] } } })),
    );
    const [planting, later] = renderCardHtml([sourceOf(solution)]).split("</article>");
    expect(planting).not.toContain("off stems and leaves");
    expect(later).toContain("off stems and leaves");
    for (const sheet of [planting, later]) {
      expect(sheet).toContain("Mix outdoors");
      expect(sheet).toContain("Mixed on");
    }
  });

  it("prints black on white, cups as large as weights", async () => {
    const html = renderCardHtml([sourceOf(await solvePlan(loadTree(tree())))]);
    expect(html.match(/background: #fff;/g)).toHaveLength(1);
    expect(html).not.toMatch(/background(?!: #fff;)|gradient/);
    expect(html).not.toContain('class="need"');
    expect(html).toMatch(/td\.weigh, td\.loose \{ font-size: 20pt/);
  });

  it("has a JSON with one card for each application, which adds up to what is spread", async () => {
    const solution = await solvePlan(loadTree(tree()));
    const { schema, cards } = cardJson([sourceOf(solution)]);
    expect(schema).toBe("barrowmix.card/1");
    expect(cards.map(({ application, day, batches }) => [application, day, batches])).toEqual([
      ["planting", 0, 1],
      ["later", 40, 1],
    ]);
    for (const card of cards) {
      expect(card.weights.map(({ id, text }) => [id, text])).toEqual([
        ["meal", "25.00 lb"],
        ["salt", "2.00 lb"],
      ]);
      expect(card.weights.reduce((sum, { kg }) => sum + kg, 0)).toBeCloseTo(card.kgEach, 9);
    }
  });

  it("counts boxes that would be too many to draw", async () => {
    const html = renderCardHtml([
      sourceOf(await solvePlan(loadTree(tree({ batch: { size: "1 lb" }, scale: "0.01 lb" })))),
    ]);
    expect(html).toContain("____ of 27");
  });

  it("prints as Markdown with boxes to tick", async () => {
    const text = renderMarkdown(cardReport([sourceOf(await solvePlan(loadTree(tree())))]));
    expect(text).toContain("| ☐ | 25.00 lb |");
    expect(text).toContain("Made: ☐ 1");
    expect(text).toContain("Take care");
  });

  it("says that nothing needs to be mixed where nothing is needed", async () => {
    const solution = await solvePlan(
      loadTree(tree({ credits: [{ from: "compost", per: "bed", N: "4 lb", K2O: "3 lb", day: -10 }] })),
    );
    expect(renderCardHtml([sourceOf(solution)])).toContain("Nothing needs to be mixed");
    expect(renderMarkdown(cardReport([sourceOf(solution)]))).toContain("Nothing needs to be mixed");
  });
});

describe("the card command", () => {
  const run = async (...args: string[]) => {
    const { main } = await import("../../src/cli.ts");
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
