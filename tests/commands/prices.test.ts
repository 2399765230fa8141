/** `prices import`, from the command line, on files of its own. */
import { spawn } from "node:child_process";
import {
  chmodSync,
  lstatSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  symlinkSync,
  writeFileSync,
} from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { main } from "../../src/cli.ts";
import { ROOT, testWorld } from "../helpers/world.ts";

const folders: string[] = [];
afterAll(() => {
  for (const folder of folders) rmSync(folder, { recursive: true });
});

const SHIPPED = readFileSync(join(ROOT, "recipes/amendments/animal-meals.yaml"), "utf8");
function shed(files: Readonly<Record<string, string>> = {}) {
  const folder = mkdtempSync(join(tmpdir(), "barrowmix-prices-"));
  folders.push(folder);
  for (const [name, text] of Object.entries({ "amendments.yaml": SHIPPED, ...files }))
    writeFileSync(join(folder, name), text);
  return {
    folder,
    text: () => readFileSync(join(folder, "amendments.yaml"), "utf8"),
    names: () => readdirSync(folder).sort(),
    run: async (argv: readonly string[], stdin = "") => {
      const world = testWorld({ cwd: folder, stdin });
      const code = await main(argv, world);
      return { code, ...world.written };
    },
  };
}
const LIST = "id,size,price\nblood-meal,50 lb,58.00\nblood-meal,5 lb,15.00\nfeather-meal,25 lb,23.50\n";
const IMPORT = ["prices", "import", "list.csv", "--into", "amendments.yaml"];

describe("prices import", () => {
  it("changes a shipped file in the lines that hold prices and in no other", async () => {
    const { run, text } = shed({ "list.csv": LIST });
    const { code, stdout, stderr } = await run(IMPORT);
    expect({ code, stderr }).toEqual({ code: 0, stderr: "" });
    const changed = text().split("\n");
    const before = SHIPPED.split("\n");
    const added = changed.filter((line) => !before.includes(line));
    expect(added).toEqual([
      "      - {size: 50 lb, price: 58.00}",
      "      - {size: 5 lb, price: 15.00}",
      "    note: organic status to be confirmed with your certifier",
      "      - {size: 25 lb, price: 23.50}",
    ]);
    expect(changed).toHaveLength(before.length + 1);
    expect(stdout).toMatch(/3 prices changed in amendments\.yaml/);
    expect(stdout).toMatch(/blood-meal +50 lb +62\.00 +58\.00 +new price/);
    expect(stdout).toMatch(/feather-meal +50 lb +38\.50 +38\.50 +kept: not in the list/);
  });

  it("does nothing the second time", async () => {
    const { run, text } = shed({ "list.csv": LIST });
    await run(IMPORT);
    const once = text();
    const { code, stdout } = await run(IMPORT);
    expect(code).toBe(0);
    expect(stdout).toMatch(/The file says so already/);
    expect(text()).toBe(once);
  });

  it("shows with --dry-run what it would do, and does not", async () => {
    const { run, text, names } = shed({ "list.csv": LIST });
    const { code, stdout } = await run([...IMPORT, "--dry-run", "--json"]);
    expect(code).toBe(0);
    expect(JSON.parse(stdout)).toMatchObject({
      schema: "barrowmix.prices/1",
      dryRun: true,
      written: false,
      changes: expect.arrayContaining([
        { id: "blood-meal", size: "50 lb", before: 62, after: 58, what: "changed" },
        { id: "feather-meal", size: "25 lb", before: null, after: 23.5, what: "added" },
        { id: "feather-meal", size: "5 lb", before: 9.25, after: null, what: "kept" },
      ]),
    });
    expect(text()).toBe(SHIPPED);
    expect(names()).toEqual(["amendments.yaml", "list.csv"]);
  });

  it("reads the list from standard input", async () => {
    const { run, text } = shed();
    const { code } = await run(["prices", "import", "-", "--into", "amendments.yaml"], LIST);
    expect(code).toBe(0);
    expect(text()).toContain("price: 58.00");
  });

  it("prices what an included file defines", async () => {
    const { run, text } = shed({ "list.csv": LIST, "mine.yaml": "# mine\ninclude: [amendments.yaml]\n" });
    const { code } = await run(["prices", "import", "list.csv", "--into", "mine.yaml"]);
    expect(code).toBe(0);
    expect(text()).toBe(SHIPPED);
    expect((await run(["check", "mine.yaml"])).code).toBe(0);
    const listed = await run([
      "solve",
      "--amendments",
      "mine.yaml",
      "--recipe",
      "kale",
      "--area",
      "1 acre",
      "--json",
    ]);
    const { inputs } = JSON.parse(listed.stdout) as {
      inputs?: { amendments: { id: string; packs: { price: number }[] }[] };
    };
    if (inputs)
      expect(inputs.amendments.find((a) => a.id === "blood-meal")!.packs.map((p) => p.price)).toEqual([
        58, 15,
      ]);
  });

  it.each([
    [
      "an unknown id",
      "id,size,price\nblood-meal,50 lb,58\nbloodmeal,5 lb,15\n",
      /^list\.csv:3:1: `amendments\.yaml` has no amendment `bloodmeal` \[amendment-unknown\]\n {2}3 \| bloodmeal,5 lb,15\n {4}\| \^\n {2}did you mean `blood-meal`\?/,
    ],
    [
      "a bad price",
      "id,size,price\nblood-meal,50 lb,58\nblood-meal,5 lb,abc\n",
      /^list\.csv:3:17: `abc` is not a price/,
    ],
    // A size by volume needs a density, which only the amendments file can give.
    [
      "a volume without a density",
      "id,size,price\nnodensity,1 cu ft,9\n",
      /^amendments\.yaml:4:44: .*nodensity.* no density/,
    ],
  ])("writes nothing for %s", async (_, list, message) => {
    const extra =
      "amendments:\n  blood-meal: {analysis: {N: 12}, packs: [{size: 50 lb, price: 1}]}\n  nodensity:\n    packs: [{size: 1 kg, price: 1}]\n    analysis: {N: 1}\n";
    const text = list.includes("nodensity") ? extra : SHIPPED;
    const farm = shed({ "list.csv": list, "amendments.yaml": text });
    const { code, stdout, stderr } = await farm.run(IMPORT);
    expect(code).toBe(2);
    expect(stdout).toBe("");
    expect(stderr).toMatch(message);
    expect(farm.text()).toBe(text);
    expect(farm.names()).toEqual(["amendments.yaml", "list.csv"]);
  });

  it.each([
    [["prices", "import", "list.csv"], /say which file the prices go into: --into amendments\.yaml/],
    [["prices", "imprt", "list.csv", "--into", "amendments.yaml"], /did you mean `prices import/],
    [
      ["prices", "import", "lost.csv", "--into", "lost.yaml"],
      /`lost\.csv` is not there[\s\S]*`lost\.yaml` is not there/,
    ],
    [["prices", "import", "list.csv", "--into", "list.csv"], /is no amendments file/],
  ])("%j is refused", async (argv, message) => {
    const { run } = shed({ "list.csv": LIST });
    const { code, stdout, stderr } = await run(argv);
    expect(code).toBe(2);
    expect(stdout).toBe("");
    expect(stderr).toMatch(message);
  });
});

describe("a file that others change, or that is not what it seems", () => {
  const entries = Array.from({ length: 12 }, (_, i) => `  a${i}: {analysis: {N: 5}} # ${i}\n`).join("");

  it("loses no update when several runs change it at once", async () => {
    const lists = Object.fromEntries(
      Array.from({ length: 12 }, (_, i) => [`list${i}.csv`, `id,size,price\na${i},50 lb,${i + 1}\n`]),
    );
    const { folder, text, names } = shed({ ...lists, "amendments.yaml": `amendments:\n${entries}` });
    const runs = Array.from({ length: 12 }, (_, i) => {
      const argv = ["prices", "import", `list${i}.csv`, "--into", "amendments.yaml"];
      return new Promise<number | null>((resolve) =>
        spawn(process.execPath, [join(ROOT, "bin/barrowmix.cjs"), ...argv], { cwd: folder }).on(
          "close",
          resolve,
        ),
      );
    });
    expect(await Promise.all(runs)).toEqual(Array.from({ length: 12 }, () => 0));
    for (let i = 0; i < 12; i++)
      expect(text()).toContain(`a${i}: {analysis: {N: 5}, packs: [{size: 50 lb, price: ${i + 1}}]} # ${i}\n`);
    expect(names().filter((name) => name.startsWith("."))).toEqual([]);
  }, 120_000);

  it("puts away what a killed run left, and takes its lock over", async () => {
    // The largest process number that Linux gives is 4,194,304.
    const { run, names } = shed({
      "list.csv": LIST,
      ".barrowmix-4999999-0.tmp": "half",
      ".barrowmix-amendments.yaml.lock": "4999999",
    });
    expect((await run(IMPORT)).code).toBe(0);
    expect(names()).toEqual(["amendments.yaml", "list.csv"]);
  });

  it("keeps its rights, also through a link", async () => {
    const { run, folder, text } = shed({ "list.csv": LIST });
    chmodSync(join(folder, "amendments.yaml"), 0o640);
    symlinkSync("amendments.yaml", join(folder, "link.yaml"));
    expect((await run(["prices", "import", "list.csv", "--into", "link.yaml"])).code).toBe(0);
    expect(statSync(join(folder, "amendments.yaml")).mode & 0o777).toBe(0o640);
    expect(lstatSync(join(folder, "link.yaml")).isSymbolicLink()).toBe(true);
    expect(text()).toContain("price: 58.00");
  });

  it("is left as it is where it is not UTF-8", async () => {
    const { run, folder } = shed({ "list.csv": LIST });
    const bytes = Buffer.concat([Buffer.from(SHIPPED), Buffer.from([0x23, 0xe9, 0x0a])]);
    writeFileSync(join(folder, "amendments.yaml"), bytes);
    const { code, stderr } = await run(IMPORT);
    expect(code).toBe(2);
    expect(stderr).toContain(
      `amendments.yaml:${SHIPPED.split("\n").length}:2: a byte here is not UTF-8 [file-encoding]`,
    );
    expect(readFileSync(join(folder, "amendments.yaml")).equals(bytes)).toBe(true);
  });
});

describe("a list with semicolons", () => {
  const list = "id;size;price\nfeather-meal;22,5 kg;1.500,25\nblood-meal;50 lb;1,500\n";

  it("is refused where a number can be read in two ways", async () => {
    const { run, text } = shed({ "list.csv": list });
    const { code, stderr } = await run(IMPORT);
    expect(code).toBe(2);
    expect(stderr).toContain("list.csv:3:18: `1,500` can be read in two ways");
    expect(stderr).toContain("--decimal comma or --decimal point");
    expect(text()).toBe(SHIPPED);
  });

  it("is read with the sign that is named", async () => {
    const { run, text } = shed({ "list.csv": list });
    expect((await run([...IMPORT, "--decimal", "comma"])).code).toBe(0);
    expect(text()).toContain("{size: 22.5 kg, price: 1500.25}");
    expect(text()).toContain("{size: 50 lb, price: 1.500}");
    const other = await run([...IMPORT, "--decimal", "dot"]);
    expect({ code: other.code, stderr: other.stderr }).toMatchObject({ code: 2 });
  });
});

describe("an input that is no text", () => {
  it("is refused where it has no end", async () => {
    const { run } = shed({ "list.csv": "x".repeat(5_000_001) });
    const { code, stderr } = await run(IMPORT);
    expect(code).toBe(2);
    expect(stderr).toContain("[file-size]");
  });
});
