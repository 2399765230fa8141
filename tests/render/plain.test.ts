/**
 * A name that tries to forge a line, a colour, an order of letters or a formula, through each way out of the program.
 * Files with such names are refused; the library can be given them all the same, and a way out trusts nobody.
 */
import { describe, expect, it } from "vitest";
import { main } from "../../src/cli.ts";
import { renderJson } from "../../src/commands/render.ts";
import { solvePlans } from "../../src/flow/answer.ts";
import type { Plan } from "../../src/model.ts";
import { renderCardHtml } from "../../src/render/card.ts";
import { renderCsv } from "../../src/render/csv.ts";
import { renderHtml } from "../../src/render/html.ts";
import { renderMarkdown } from "../../src/render/markdown.ts";
import { renderTerminal } from "../../src/render/terminal.ts";
import { cardReport } from "../../src/report/card-report.ts";
import { cardOf } from "../../src/report/card-sheet.ts";
import type { Report } from "../../src/report/report.ts";
import { shopList, shopReport } from "../../src/report/shop-report.ts";
import { solutionReport } from "../../src/report/solution-report.ts";
import type { Solution } from "../../src/results/solution.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { testWorld } from "../helpers/world.ts";

const FORGED = "[ ] 9 x 50 lb Gold dust, $0.00";
const NAME = `=Meal\n${FORGED}\u202e\u001b[31m`;

function forgedPlan(): Plan {
  const plan = loadTree({
    plan: "Plain",
    amendments: {
      meal: { name: "Meal", analysis: { N: 10 }, packs: [{ size: "50 lb", price: 40 }], release: "at-once" },
    },
    target: { target: "Crop", season: "60 days", need: { per: "bed", N: "2 lb" } },
    bed: { plants: 100 },
    batch: { size: "30 lb" },
    scale: "0.25 lb",
  });
  return {
    ...plan,
    name: NAME,
    targetName: NAME,
    amendments: plan.amendments.map((amendment) => ({ ...amendment, name: NAME })),
    applications: plan.applications.map((application) => ({ ...application, name: NAME })),
  };
}

async function answered(plan: Plan): Promise<Solution> {
  const found = await solvePlans([plan]);
  if (!found.ok) throw new Error(found.problems[0]!.message);
  return found.value;
}

/** Nothing but printable signs and line ends, and no line that begins as the forged one does. */
function checkPlain(text: string): void {
  expect(text).not.toMatch(/[^\P{Cc}\r\n]|\p{Bidi_Control}/u);
  for (const line of text.split(/\r?\n/))
    expect(line.replace(/^[\s"'>*-]+/, "").startsWith("[ ] 9 x"), line).toBe(false);
}

describe("a name with a line break, an escape and a mark of direction", () => {
  const renderers: Readonly<Record<string, (report: Report) => string>> = {
    terminal: (report) => renderTerminal(report, { width: 80, colour: false }),
    csv: renderCsv,
    markdown: renderMarkdown,
    html: renderHtml,
  };
  it.each(Object.keys(renderers))("is plain in %s", async (format) => {
    const solution = await answered(forgedPlan());
    for (const report of [
      solutionReport(solution, "page"),
      solutionReport(solution),
      cardReport(solution),
      shopReport(solution),
    ]) {
      const text = renderers[format]!(report);
      expect(text).toContain("Gold dust");
      checkPlain(text);
    }
  });

  it("is plain on the card's page", async () => {
    checkPlain(renderCardHtml(cardOf(await answered(forgedPlan()))));
  });

  it("gets no line of its own in a purchase list", async () => {
    const list = shopList(await answered(forgedPlan()));
    checkPlain(list);
    const lines = list.trimEnd().split("\n");
    expect(lines).toHaveLength(2);
    expect(lines[0]).toBe(`[ ] 1 x 50 lb =Meal ${FORGED} [31m, $40.00`);
  });

  it("is no formula in CSV, and reaches JSON unharmed", async () => {
    const solution = await answered(forgedPlan());
    expect(renderCsv(solutionReport(solution))).toContain(`'=Meal ${FORGED.split(",")[0]}`);
    const json = renderJson(solution);
    checkPlain(json);
    expect(JSON.parse(json).name).toBe(NAME);
  });

  // OWASP, "CSV injection", from memory: `=`, `+`, `-` and `@` begin a formula; some programs take their full-width forms too.
  it.each(["=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20", "  ="])(
    "is no formula in CSV that begins with %j",
    async (sign) => {
      const plan = forgedPlan();
      const named = plan.amendments.map((amendment) => ({ ...amendment, name: `${sign}SUM(1)` }));
      const csv = renderCsv(solutionReport(await answered({ ...plan, amendments: named })));
      expect(csv).toContain(`'${sign}SUM(1)`);
      expect(csv).not.toMatch(new RegExp(`(^|[,"])${sign.replace("+", "\\+")}SUM`, "m"));
    },
  );

  it("cannot steer the terminal from a message", async () => {
    const world = testWorld({ stdin: '{"plan": "x", "\\u001b[31mred\\n": 1}' });
    expect(await main(["solve", "-"], world)).toBe(2);
    expect(world.written.stderr).not.toMatch(/[^\P{Cc}\n]/u);
  });
});
