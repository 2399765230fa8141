import { describe, expect, it, vi } from "vitest";
import type { AnswerOptions as ShopOptions } from "../../src/flow/answer.ts";
import { renderCsv } from "../../src/render/csv.ts";
import { renderTerminal } from "../../src/render/terminal.ts";
import { shopList, shopReport } from "../../src/report/shop-report.ts";
import { DEMO, load, shop } from "../helpers/shop.ts";

// Other solvers take their time, the more so on a busy machine.
vi.setConfig({ testTimeout: 120_000 });

describe("a purchase in print", () => {
  it("fits 80 columns", async () => {
    const plan = load(DEMO);
    for (const options of [{}, { application: "planting" }, { budget: 90 }] as ShopOptions[]) {
      const text = renderTerminal(shopReport(await shop(plan, options)), { width: 80, colour: false });
      for (const line of text.split("\n")) expect(line.length).toBeLessThanOrEqual(80);
    }
  });

  it("lists one item a line", async () => {
    const lines = shopList(await shop(load(DEMO)))
      .trimEnd()
      .split("\n");
    expect(lines.at(-1)).toBe("In all $184.00");
    for (const line of lines.slice(0, -1)) expect(line).toMatch(/^\[ \] .+, \$\d+\.\d\d \(.+\)$/);
  });

  it("adds up in CSV", async () => {
    const shopping = await shop(load(DEMO));
    const [head, ...rows] = renderCsv(shopReport(shopping)).trimEnd().split("\r\n");
    const column = head!.split(",").indexOf("cost");
    const costs = rows.map((row) => Number(row.split(",")[column]));
    expect(costs.reduce((x, y) => x + y, 0)).toBeCloseTo(shopping.total!, 9);
  });
});
