/** The renderers: what they print of a made-up answer, and what no text may do to them. */
import { join } from "node:path";
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { plainText } from "../../src/plain-text.ts";
import { renderCsv } from "../../src/render/csv.ts";
import { renderHtml } from "../../src/render/html.ts";
import { renderMarkdown } from "../../src/render/markdown.ts";
import { renderTerminal, wrap } from "../../src/render/terminal.ts";
import { figures, fullTableOf, partsOf, type Report, type Table, words } from "../../src/report/report.ts";
import { solutionReport } from "../../src/report/solution-report.ts";
import type { Solution } from "../../src/results/solution.ts";
import { slow } from "../helpers/seeds.ts";
import { fixtureSolution, infeasibleFixture } from "../helpers/solution-fixture.ts";
import { ROOT } from "../helpers/world.ts";

const EXPECTED = join(ROOT, "tests/render/expected");
const SEED = { seed: 20240612 };

/** Screen columns of a line, by rough classes of letters: wide ones take two. */
function columns(line: string): number {
  let count = 0;
  for (const letter of line) {
    if (/\p{Mn}|\u200d|\ufe0f/u.test(letter)) continue;
    count +=
      /\p{Script=Han}|\p{Script=Hangul}|\p{Script=Hiragana}|\p{Script=Katakana}|[\uff01-\uff60]|\p{Emoji_Presentation}/u.test(
        letter,
      )
        ? 2
        : 1;
  }
  return count;
}

/** The fixture with other names for the materials. */
function renamed(names: readonly string[]): Solution {
  const solution = fixtureSolution();
  const name = (i: number, old: string) => names[i] ?? old;
  const [plan] = solution.inputs.plans;
  return {
    ...solution,
    mixes: solution.mixes.map((mix) => ({
      ...mix,
      materials: mix.materials.map((m, i) => ({ ...m, name: name(i, m.name) })),
    })),
    purchases: solution.purchases.map((line, i) => ({ ...line, name: name(i, line.name) })),
    inputs: {
      ...solution.inputs,
      plans: [{ ...plan!, amendments: plan!.amendments.map((a, i) => ({ ...a, name: name(i, a.name) })) }],
    },
  };
}

describe("a solved plan", () => {
  const report = solutionReport(fixtureSolution());

  it("prints as expected in each format", async () => {
    await expect(renderTerminal(report, { width: 80, colour: false })).toMatchFileSnapshot(
      join(EXPECTED, "solution.txt.expected"),
    );
    await expect(renderTerminal(report, { width: 60, colour: false })).toMatchFileSnapshot(
      join(EXPECTED, "solution-60.txt.expected"),
    );
    await expect(renderMarkdown(report)).toMatchFileSnapshot(join(EXPECTED, "solution.md.expected"));
    await expect(renderCsv(report)).toMatchFileSnapshot(join(EXPECTED, "solution.csv.expected"));
    await expect(renderHtml(report)).toMatchFileSnapshot(join(EXPECTED, "solution.html.expected"));
  });

  it("says everything a grower needs, in the order of the work", () => {
    const text = renderTerminal(report, { width: 80, colour: false });
    const at = [
      "BUY 8 BAGS",
      "Left over",
      "From the shed: 10.00 lb of Bone meal, steamed and 6.00 lb of Kelp meal.",
      "Mix 4 batches, all alike",
      "Give",
      "What the crop gets",
      "In time for the crop",
      "The mix exactly, for the whole season",
      "The worst miss is N, 0.42% below its need.",
      "Mask",
      "no release",
    ].map((part) => text.toLowerCase().indexOf(part.toLowerCase()));
    expect(at).not.toContain(-1);
    expect(at).toEqual([...at].sort((a, b) => a - b));
    // 240 plants share 195.3 lb in four batches: half of it at planting is two batches, 184.6 g for each.
    expect(text).toMatch(/planting +day 0 .*(180|184|185) g/);
    expect(text).toMatch(/planting .* 2 batches/);
    expect(text).toMatch(/fruit set .* 1 batch$/m);
  });

  it("marks a shortfall in words", () => {
    const solution = fixtureSolution();
    const [bed] = solution.beds;
    const [n, ...others] = bed!.nutrients;
    const nutrients = [
      {
        ...n!,
        countedKg: n!.minKg * 0.99,
        availableKg: n!.minKg * 0.99,
        checkpoints: n!.checkpoints.map((c) => ({ ...c, availableKg: c.needKg + n!.aheadMaxKg! * 1.01 })),
      },
      { ...others[0]!, appliedKg: others[0]!.appliedMaxKg! * 1.01 },
      ...others.slice(1),
    ];
    const short: Solution = { ...solution, beds: [{ ...bed!, nutrients }] };
    const text = renderTerminal(solutionReport(short), { width: 80, colour: false });
    expect(text).toMatch(/^ {2}N .* SHORT$/m);
    expect(text).toMatch(/^ {2}P2O5 .* OVER$/m);
    expect(text).toMatch(/^ +14 {2}N .* AHEAD$/m);
  });

  it("gives each mix its own list of weights where they differ, on lines that fit", () => {
    const solution = fixtureSolution();
    const [mix] = solution.mixes;
    const [bed] = solution.beds;
    const names = Array.from({ length: 10 }, (_, i) => `feeding ${i + 1}`);
    const many: Solution = {
      ...solution,
      mixes: names.map((name) => ({ ...mix!, name })),
      beds: [
        { ...bed!, rounds: names.map((name, i) => ({ ...bed!.rounds[0]!, name, mix: name, day: 7 * i })) },
      ],
    };
    const text = renderTerminal(solutionReport(many), { width: 80, colour: false });
    for (const line of text.split("\n")) expect(columns(line), line).toBeLessThanOrEqual(80);
    for (const name of names) expect(text).toContain(`Mix ${name}: 4 batches, all alike`);
  });

  it("says so where there is nothing to mix", () => {
    const solution = fixtureSolution();
    const nothing: Solution = {
      ...solution,
      cost: { ...solution.cost, total: 0, goods: 0, perPlant: 0 },
      mixes: [],
      purchases: [],
      suppliers: [],
      beds: solution.beds.map((bed) => ({
        ...bed,
        rounds: bed.rounds.map((round) => ({ ...round, kg: 0, mix: null, batchesTaken: 0 })),
      })),
    };
    const text = renderTerminal(solutionReport(nothing), { width: 80, colour: false });
    expect(text).toContain("Nothing needs to be mixed");
    expect(text).not.toMatch(/NaN|Give|batch/);
  });
});

describe("a plan that cannot be met", () => {
  it("names the conflict and prints no weights", async () => {
    const report = solutionReport(infeasibleFixture());
    const text = renderTerminal(report, { width: 80, colour: false });
    const blocks = partsOf(report).flatMap((part) => part.blocks);
    expect(blocks.filter(({ kind }) => kind === "table")).toEqual([]);
    expect(text).toContain("No mix of these amendments meets every demand");
    expect(text).toContain("- at most 4 lb of P2O5 applied");
    await expect(text).toMatchFileSnapshot(join(EXPECTED, "infeasible.txt.expected"));
    await expect(renderCsv(report)).toMatchFileSnapshot(join(EXPECTED, "infeasible.csv.expected"));
  });
});

describe("on a screen", () => {
  const wide = renamed([
    "Alfalfa meal, pelleted, from the second cutting, sold in paper sacks with a torn corner",
    "血粉と骨粉の混合肥料（有機栽培用）特選品",
    "🐔🐔🐔 pellets 🌱🌱🌱🌱🌱🌱🌱🌱🌱🌱🌱🌱🌱🌱🌱🌱🌱🌱🌱🌱",
    "Donaudampfschifffahrtselektrizitätenhauptbetriebswerkbauunterbeamtengesellschaft",
    "Fe\u0301ather me\u0301al",
  ]);

  it.each([60, 72, 80])("fills at most %d columns, however long or wide the names", (width) => {
    const text = renderTerminal(solutionReport(wide), { width, colour: false });
    for (const line of text.split("\n")) expect(columns(line), line).toBeLessThanOrEqual(width);
    expect(text).toContain("特選品");
    expect(text.replace(/\s/g, "")).toContain("gesellschaft");
  });

  it("keeps columns in line behind wide letters", () => {
    const text = renderTerminal(solutionReport(wide), { width: 80, colour: false });
    const shares = text.split("\n").filter((line) => / (lb|oz) +\d+\.\d+%/.test(line));
    const ends = new Set(shares.map((line) => columns(line.slice(0, line.indexOf("%")))));
    expect(shares.length).toBe(8);
    expect(ends.size).toBe(1);
  });

  it("colours only when asked, and colour changes no letter", () => {
    const report = solutionReport(fixtureSolution());
    const plain = renderTerminal(report, { width: 80, colour: false });
    const coloured = renderTerminal(report, { width: 80, colour: true });
    const esc = String.fromCharCode(27);
    expect(plain).not.toContain(esc);
    expect(coloured).toContain(`${esc}[32mok${esc}[39m`);
    const stripped = coloured.split(esc).map((part, i) => (i === 0 ? part : part.replace(/^\[\d+m/, "")));
    expect(stripped.join("")).toBe(plain);
  });

  it("breaks no id, which is there to be copied, while a text beside it can be wrapped", () => {
    const id = "manganese-sulfate-monohydrate";
    const name = "Manganese sulfate monohydrate, in small sacks, from the store beside the old mill";
    const table = fullTableOf(
      [{ id, name }],
      [
        words("Id", "id", (r) => r.id),
        words("Name", "name", (r) => r.name),
        words("Note", "note", (r) => r.name),
      ],
    );
    const report = {
      title: "List",
      sections: [{ title: "All", blocks: [{ kind: "table", table } as const] }],
    };
    const lines = renderTerminal({ ...report, csv: table }, { width: 60, colour: false }).split("\n");
    expect(lines.some((line) => line.includes(id))).toBe(true);
    for (const line of lines) expect(columns(line)).toBeLessThanOrEqual(60);
  });

  it("lets no name steer the terminal", () => {
    const text = renderTerminal(solutionReport(renamed(["\u001b[2Jboo\u0007\r\nx\ty"])), {
      width: 80,
      colour: false,
    });
    // biome-ignore lint/suspicious/noControlCharactersInRegex: that none of them is there is the point.
    expect(text).not.toMatch(/[\u0000-\u0009\u000b-\u001f\u007f-\u009f]/);
  });

  slow("wraps any text to any width and loses none of it", () => {
    fc.assert(
      fc.property(fc.string({ unit: "binary" }), fc.integer({ min: 4, max: 30 }), (text, width) => {
        const lines = wrap(text, width);
        for (const line of lines) expect(columns(line) <= width || [...line].length === 1).toBe(true);
        const letters = (t: string) => t.replace(/[\s\p{Cc}\u2028\u2029]/gu, "");
        expect(letters(lines.join(""))).toBe(letters(text));
      }),
      SEED,
    );
  });
});

/** A reader of RFC 4180, written from its grammar. */
function parseCsv(text: string): string[][] {
  const records: string[][] = [];
  let record: string[] = [];
  let at = 0;
  while (at < text.length) {
    let field = "";
    if (text[at] === '"') {
      at++;
      while (text[at] !== '"' || text[at + 1] === '"') {
        if (at >= text.length) throw new Error("a quote that never ends");
        field += text[at];
        at += text[at] === '"' ? 2 : 1;
      }
      at++;
    } else {
      while (at < text.length && text[at] !== "," && text[at] !== "\r") {
        if (text[at] === '"' || text[at] === "\n") throw new Error("a bare quote or line feed");
        field += text[at++];
      }
    }
    record.push(field);
    if (text[at] === ",") at++;
    else if (text.startsWith("\r\n", at)) {
      records.push(record);
      record = [];
      at += 2;
    } else throw new Error(`neither a comma nor the end of a line at ${at}`);
  }
  return records;
}

function tableReport(names: readonly string[]): Report {
  return {
    title: "Names",
    sections: [],
    csv: {
      columns: [
        { head: "Name", align: "left", csv: "name" },
        { head: "Number", align: "right", csv: "number" },
      ],
      rows: names.map((text) => [{ text }, { text: "minus one", raw: -1 }]),
    },
  };
}

describe("CSV", () => {
  it("reads back, number for number", () => {
    const solution = fixtureSolution();
    const [head, ...rows] = parseCsv(renderCsv(solutionReport(solution)));
    expect(head).toEqual([
      "bed",
      "round",
      "day",
      "mix",
      "batches",
      "batches_taken",
      "id",
      "material",
      "batch_lb",
      "round_lb",
      "batch_ml",
      "date",
      "status",
      "conflict",
      "demand",
    ]);
    expect(rows).toHaveLength(24);
    const [bed] = solution.beds;
    for (const row of rows) {
      const round = bed!.rounds.find(({ name }) => name === row[1])!;
      const weight = solution.mixes[0]!.batches.weights.find(({ id }) => id === row[6])!;
      expect(Number(row[2])).toBe(round.day);
      expect(Number(row[8]) * 0.45359237).toBeCloseTo(weight.kg, 9);
      expect(Number(row[9])).toBeCloseTo(Number(row[8]) * Number(row[5]), 9);
    }
  });

  it("reads back whatever a name holds, and no name is a formula", () => {
    fc.assert(
      fc.property(fc.array(fc.string({ unit: "binary" }), { minLength: 1 }), (names) => {
        const [, ...rows] = parseCsv(renderCsv(tableReport(names)));
        const unmarked = (name: string) => name.replace(/^'(?=\s*[=+\-@])/, "");
        expect(rows.map((row) => unmarked(row[0]!))).toEqual(names.map((name) => unmarked(plainText(name))));
        for (const row of rows) {
          expect(row[0]).not.toMatch(/^\s*[=+\-@\t\r]/);
          expect(row[1]).toBe("-1");
        }
      }),
      SEED,
    );
  });

  it("keeps its headers where a column is empty", () => {
    const solution = fixtureSolution();
    const unknown: Solution = {
      ...solution,
      mixes: solution.mixes.map((mix) => ({
        ...mix,
        batches: { ...mix.batches, weights: mix.batches.weights.map((w) => ({ ...w, mL: null })) },
      })),
    };
    const [head, first] = parseCsv(renderCsv(solutionReport(unknown)));
    expect(first![head!.indexOf("batch_ml")]).toBe("");
  });
});

describe("markup", () => {
  const nasty = "<script>alert(1)</script> | *a* _b_ `c` [d](e) \\ & \"quoted\" 'single'";
  const report = solutionReport({ ...renamed([nasty, "1. first", "# head"]), name: nasty });

  it("takes no text for HTML", () => {
    const page = renderHtml(report);
    expect(page).not.toContain("<script");
    expect(page).toContain("&lt;script&gt;alert(1)&lt;/script&gt;");
    expect(page).not.toMatch(/https?:|src=|href=/);
    // Every element that opens closes.
    const tags = [...page.matchAll(/<(\/?)([a-z0-9]+)[^>]*>/g)].filter(([, , name]) => name !== "meta");
    const open: string[] = [];
    for (const [, slash, name] of tags) {
      if (slash === "") open.push(name!);
      else expect(open.pop()).toBe(name);
    }
    expect(open).toEqual([]);
  });

  it("says on a narrow screen what a row's first number is, where a name says so itself", () => {
    const columns = [
      figures<number>("By day", "day", (day) => day, String),
      ...["a", "b", "c", "d"].map((name) => words<number>(name.toUpperCase(), name, () => name)),
    ];
    const firstCells = (table: Table) =>
      [
        ...renderHtml({ title: "x", sections: [], summary: [{ kind: "table", table }] }).matchAll(
          /<tr><t[dh](?! scope="col")[^>]*>/g,
        ),
      ].map(([cell]) => cell.includes("data-head="));
    expect(firstCells(fullTableOf([50, 100], columns))).toEqual([true, true]);
    expect(firstCells(fullTableOf([50, 100], columns.toReversed()))).toEqual([false, false]);
  });

  it("takes no text for Markdown, and every table row has its columns", () => {
    const text = renderMarkdown(report);
    expect(text).not.toContain("<script");
    expect(text).toContain("\\*a\\* \\_b\\_ \\`c\\` \\[d\\](e)");
    const rows = text.split("\n").filter((line) => line.startsWith("|"));
    const bars = (line: string) => line.replace(/\\./g, "").split("|").length;
    let expected = 0;
    for (const [i, line] of rows.entries()) {
      if (rows[i + 1]?.startsWith("| ---")) expected = bars(line);
      expect(bars(line), line).toBe(expected);
    }
  });
});
