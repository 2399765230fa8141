/** What fits one screen, and that the whole report says the rest. */
import { describe, expect, it } from "vitest";
import { main } from "../../src/cli.ts";
import {
  alwaysWords,
  cautionSections,
  inShort,
  moreWarnings,
  ranked,
} from "../../src/report/caution-sections.ts";
import { extentOf, type LongReport, paragraph } from "../../src/report/report.ts";
import { seeds, slow } from "../helpers/seeds.ts";
import { testWorld } from "../helpers/world.ts";

const PLAN = "examples/brassica-terraces/plan.yaml";
const MIX = "examples/brassica-terraces/mix.yaml";
const SEASON = "examples/brassica-terraces/season.yaml";

/** What each command line prints: run once. */
const outputs = new Map<string, Promise<{ readonly stdout: string; readonly stderr: string }>>();

function written(args: readonly string[]): Promise<{ readonly stdout: string; readonly stderr: string }> {
  const line = args.join(" ");
  const run = async () => {
    const world = testWorld();
    expect(await main(args, world)).toBe(0);
    return world.written;
  };
  const output = outputs.get(line) ?? run();
  outputs.set(line, output);
  return output;
}

const printed = async (args: readonly string[]): Promise<string> => (await written(args)).stdout;

describe("one screen", () => {
  const commands: readonly (readonly string[])[] = [
    ["solve", PLAN],
    ["shop", PLAN],
    ["assay", MIX],
    ["assay", MIX, "--against", PLAN],
  ];
  it.each(seeds(commands.slice(2), commands).map((args) => ({ args })))("$args", async ({ args }) => {
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
    const at = ["BUY", "\nBuy ", "\nMix ", "\nGive", "\nWatch"].map((t) => text.indexOf(t));
    expect(at).not.toContain(-1);
    expect(at).toEqual([...at].sort((a, b) => a - b));
  });

  slow("gives CSV the same table either way", async () => {
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

  it("show the four worst in short, count the others, and drop none", () => {
    const codes = ["salt-at-planting", "boron", "zinc", "keep-off-plants", "manure-process"];
    const all = [...codes, "dust"].map((code) => ({
      code,
      text: `About ${code} there is this one sentence to begin with. And there is another sentence.`,
    }));
    const [page, whole] = cautionSections({ cautions: all, warnings: [] }).map(([, sections]) =>
      JSON.stringify(sections),
    );
    for (const { text } of all.slice(0, 4)) expect(page).toContain(`"${text.split(". ")[0]}."`);
    expect(page).not.toMatch(/another sentence|manure-process/);
    expect(moreWarnings({ cautions: all, warnings: [] })).toBe("1 more warning");
    expect(moreWarnings({ cautions: all, warnings: [notice("made-up"), notice("other")] })).toBe(
      "3 more warnings",
    );
    for (const { text: said } of all) expect(whole).toContain(said);
  });

  it("that can hurt people are said whole", () => {
    const text = "Keep raw manure off food for 120 days before harvest. Ask your certifier. Wash.";
    expect(inShort({ code: "raw-manure-interval", text })).toBe(text);
    expect(inShort({ code: "boron", text })).toBe("Keep raw manure off food for 120 days before harvest.");
  });
});

/** What growers tripped over, and no output says any more; and a code where a sentence should be. */
const GONE =
  /no other mix of these amendments that is|season in 10 at most|using them up|all is well|no two of these hold|What one more or one less|enters below|earlier versions|have to give way, all in all|\[[a-z]+(-[a-z]+)+\]$/im;

describe("the words of every output", () => {
  const starts: readonly (readonly string[])[] = [
    ["solve", PLAN],
    ...seeds(
      [],
      [
        ["solve", PLAN, "--all"],
        ["solve", PLAN, "--sure", "90%", "--all"],
        ["shop", PLAN, "--all"],
        ["now", SEASON, "--all"],
      ],
    ),
    ["solve", PLAN, "--by", "weight", "--all"],
    ["solve", PLAN, PLAN, ...seeds([], ["--all"])],
    ["now", SEASON],
    ["solve", PLAN, "--format", "csv"],
    ["card", PLAN],
    ["assay", MIX, "--against", PLAN, "--all"],
    ["whatif", PLAN, "--exclude", "kelp-meal"],
    ["sweep", PLAN, "--price", "feather-meal", "--from", "-10%", "--to", "+10%", "--by", "weight"],
    ["sweep", PLAN, "--need", "N", "--from", "110 lb/acre", "--to", "130 lb/acre", "--by", "weight"],
    ["record", SEASON, "--all"],
    ...["amendments", "crops", "cautions", "varies", "releases"].map((topic) => ["list", topic]),
    ["check", PLAN],
    ["check", "--help"],
  ];
  it.each(starts.map((args) => ({ args })))("$args holds no code and no garden path", async ({ args }) => {
    const { stdout, stderr } = await written(args);
    expect(stdout.length).toBeGreaterThan(100 - (args[0] === "check" ? 80 : 0));
    for (const line of `${stdout}\n${stderr}`.split(/\r?\n/)) expect(line).not.toMatch(GONE);
  });
});

describe("the first lines of an answer", () => {
  it("say what is paid, what is fed, how sure, and what to type for more", async () => {
    const text = (await printed(["solve", PLAN])).replace(/\s+/g, " ");
    // 125, 30 and 130 lb an acre are what the target file asks.
    expect(text).toContain("Feeds 125 lb N, 30 lb P2O5, 130 lb K2O an acre");
    expect(text).toMatch(/BUY 5 BAGS: \$184\.00 with delivery, 19 cents a plant\./);
    expect(text).toMatch(/in about 5 seasons of 10 \(all needs at once in \d of 10\)/);
    // The rates come from a file, which is named; the command is whole.
    expect(text).toContain("130 lb K2O an acre (target.yaml)");
    const surer =
      /Each in 9 of 10 for (\$\d+\.\d\d) in all: `barrowmix solve ([^`]*plan\.yaml) --sure 90%`\./.exec(
        text,
      )!;
    expect(surer[2]).toBe(PLAN);
    expect(await printed(["solve", PLAN, "--sure", "90%"])).toContain(`: ${surer[1]} with delivery`);
    // The whole report names the same step at the same price.
    expect((await printed(["solve", PLAN, "--all"])).replace(/\s+/g, " ")).toContain(surer[0]);
  });

  it("name the recipe and the yield that decide the money", async () => {
    // recipes/crops/broccoli.yaml: 165 lb of N for 5 tons an acre.
    const bags = ["feather-meal@44/50 lb", "poultry-pellets@18/50 lb", "potassium-sulfate@46/50 lb"];
    const have = bags.flatMap((bag) => ["--have", bag]);
    const text = await printed(["solve", "--recipe", "broccoli", "--area", "1 acre", ...have]);
    expect(text.replace(/\s+/g, " ")).toContain("an acre (shipped recipe, for 5 tons)");
  });

  it("fit the demo on 40 lines", async () => {
    expect((await printed(["solve", PLAN])).trimEnd().split("\n").length).toBeLessThanOrEqual(40);
  });
});

describe("a mix against a plan", () => {
  it("says first what to change in each batch, and what that saves", async () => {
    const text = await printed(["assay", MIX, "--against", PLAN]);
    expect(text.indexOf("Do this first")).toBeLessThan(text.indexOf("Against the plan"));
    const { against, spread } = JSON.parse(await printed(["assay", MIX, "--against", PLAN, "--json"]));
    const batches = spread.batchesEachTime * spread.times * against.scaledBy;
    const kelp = against.change.amendments.find(({ id }: { id: string }) => id === "kelp-meal");
    const less = (kelp.fromKg - kelp.toKg) / batches / 0.45359237;
    expect(text).toContain(`${less.toFixed(2)} lb  less  Kelp meal`);
    // The barrow's scale shows pounds: no ounces beside them.
    expect(text.slice(text.indexOf("Do this first"), text.indexOf("batches meet the plan"))).not.toMatch(
      /\d oz\b/,
    );
    expect(text).toContain(`save $${(against.cost - against.change.cost).toFixed(2)}`);
  });
});
