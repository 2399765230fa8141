/** A name that tries to forge a line, a colour, an order of letters or a formula, through each way out of the program. */
import { describe, expect, it } from "vitest";
import { main } from "../../src/cli.ts";
import { testWorld } from "../helpers/world.ts";

const FORGED = "[ ] 9 x 50 lb Gold dust, $0.00";
const NAME = `=Meal\n${FORGED}\u202e\u001b[31m`;
const PLAN = JSON.stringify({
  plan: NAME,
  amendments: {
    meal: { name: NAME, analysis: { N: 10 }, packs: [{ size: "50 lb", price: 40 }], release: "at-once" },
  },
  target: { target: NAME, season: "60 days", need: { per: "bed", N: "2 lb" } },
  bed: { plants: 100 },
  batch: { size: "30 lb" },
  scale: "0.25 lb",
});

async function printed(...args: string[]): Promise<string> {
  const world = testWorld({ stdin: PLAN });
  const code = await main(args, world);
  expect(world.written.stderr).not.toMatch(/[^\P{Cc}\n]|\p{Bidi_Control}/u);
  expect(code).toBe(0);
  return world.written.stdout;
}

describe("a name with a line break, an escape and a mark of direction", () => {
  const ways: readonly (readonly string[])[] = [
    ["solve", "-"],
    ["solve", "-", "--all"],
    ["solve", "-", "--format", "md"],
    ["solve", "-", "--format", "csv"],
    ["solve", "-", "--json"],
    ["shop", "-"],
    ["shop", "-", "--format", "list"],
    ["shop", "-", "--format", "csv"],
    ["card", "-"],
    ["card", "-", "--html"],
    ["card", "-", "--format", "csv"],
    ["check", "-"],
  ];
  it.each(ways.map((args) => ({ args })))("$args", async ({ args }) => {
    const text = await printed(...args);
    expect(text).not.toMatch(/[^\P{Cc}\r\n]|\p{Bidi_Control}/u);
    expect(text.split(/\r?\n/).map((line) => line.replace(/^[\s"'>*-]+/, ""))).not.toContain(FORGED);
    for (const line of text.split(/\r?\n/)) expect(line.startsWith("[ ] 9 x"), line).toBe(false);
  });

  it("gets no line of its own in a purchase list", async () => {
    const lines = (await printed("shop", "-", "--format", "list")).trimEnd().split("\n");
    expect(lines).toHaveLength(2);
    expect(lines[0]).toBe(`[ ] 1 x 50 lb =Meal ${FORGED} [31m, $40.00`);
  });

  it("is no formula in CSV, and reaches JSON unharmed", async () => {
    expect(await printed("solve", "-", "--format", "csv")).toContain(`'=Meal ${FORGED.split(",")[0]}`);
    expect(JSON.parse(await printed("solve", "-", "--json")).plan).toBe(NAME);
  });

  it("cannot steer the terminal from a message", async () => {
    const world = testWorld({ stdin: '{"plan": "x", "\\u001b[31mred\\n": 1}' });
    expect(await main(["solve", "-"], world)).toBe(2);
    expect(world.written.stderr).not.toMatch(/[^\P{Cc}\n]/u);
  });
});
