/** What fits one screen, and that the whole report says the rest. */
import { describe, expect, it } from "vitest";
import { main } from "../../src/cli.ts";
import { alwaysWords, cautionSections, ranked } from "../../src/report/caution-sections.ts";
import { extentOf, type LongReport, paragraph } from "../../src/report/report.ts";
import { testWorld } from "../helpers/world.ts";

const PLAN = "examples/brassica-terraces/plan.yaml";
const MIX = "examples/brassica-terraces/mix.yaml";

async function printed(args: readonly string[]): Promise<string> {
  const world = testWorld();
  expect(await main(args, world)).toBe(0);
  return world.written.stdout;
}

describe("one screen", () => {
  const commands: readonly (readonly string[])[] = [
    ["solve", PLAN],
    ["shop", PLAN],
    ["assay", MIX],
    ["assay", MIX, "--against", PLAN],
  ];
  it.each(commands.map((args) => ({ args })))("$args", async ({ args }) => {
    const lines = (await printed(args)).trimEnd().split("\n");
    expect(lines.length).toBeLessThanOrEqual(50);
    for (const line of lines) expect(line.length, line).toBeLessThanOrEqual(80);
    expect(lines.slice(-2).join(" ")).toContain("--all");
    const whole = (await printed([...args, "--all"])).trimEnd().split("\n");
    expect(whole.length).toBeGreaterThan(lines.length);
    expect(whole.join("\n")).not.toContain("--all");
  });

  it("says what to buy, weigh, give and watch", async () => {
    const text = await printed(["solve", PLAN]);
    const at = ["BUY", "\nBuy\n", "\nMix ", "\nGive", "watch"].map((t) => text.indexOf(t));
    expect(at).not.toContain(-1);
    expect(at).toEqual([...at].sort((a, b) => a - b));
  });

  it("gives CSV the same table either way", async () => {
    for (const args of commands) {
      const csv = [...args, "--format", "csv"];
      expect(await printed(csv)).toBe(await printed([...csv, "--all"]));
    }
  });
});

describe("a report of two extents", () => {
  const block = [paragraph("text")];
  const report: LongReport = {
    title: "t",
    sections: [
      ["essential", [{ title: "a", blocks: block }]],
      ["more", [{ title: "b", blocks: block }]],
      ["in-short", [{ title: "c", blocks: block }]],
    ],
    rest: "b",
  };
  const titles = (r: LongReport, extent: "page" | "whole") =>
    extentOf(r, extent).sections.map((s) => s.title);

  it("keeps its order and leaves out what belongs to the other", () => {
    expect(titles(report, "page")).toEqual(["a", "c"]);
    expect(titles(report, "whole")).toEqual(["a", "b"]);
  });

  it("names --all only where it would say more", () => {
    expect(extentOf(report, "page").closing).toEqual([paragraph("With --all also: b.", "faint")]);
    expect(extentOf(report, "whole").closing).toBeUndefined();
    expect(extentOf({ ...report, sections: [report.sections[0]!] }, "page").closing).toBeUndefined();
  });
});

describe("cautions", () => {
  const notice = (code: string, words = 3) => ({ code, text: `${code} ${"word ".repeat(words).trim()}.` });

  it("come gravest first, and what always holds last", () => {
    const order = ranked(
      ["dust", "organic-unknown", "made-up", "salt-at-planting"].map((code) => notice(code)),
    );
    expect(order.map(({ code }) => code)).toEqual(["salt-at-planting", "made-up", "organic-unknown", "dust"]);
    expect(alwaysWords(order)).toMatch(/^Always: mix outdoors/);
    expect(alwaysWords([notice("boron")])).toBeNull();
  });

  it("always show the gravest, name those without room, and drop none", () => {
    const all = ["salt-at-planting", "boron", "zinc", "dust"].map((code) => notice(code, 60));
    const [page, whole] = cautionSections(all, []).map(([, sections]) => JSON.stringify(sections));
    expect(page).toContain(all[0]!.text);
    expect(page).toContain("Also, with --all: boron, zinc.");
    for (const { text: said } of all) expect(whole).toContain(said);
  });
});
