/** `init`: starter files that load and solve, whoever answered, and that never take the place of anything. */
import {
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { main } from "../../src/cli.ts";
import type { Asker, Choice } from "../../src/commands/ask.ts";
import { initWith } from "../../src/commands/init.ts";
import { filesOf } from "../../src/commands/plan-options.ts";
import { checkFiles, loadPlan } from "../../src/files/load.ts";
import {
  applicationDays,
  entriesOf,
  type StarterFile,
  starterFiles,
  USUAL,
  USUAL_AMENDMENTS,
  USUAL_APPLICATIONS,
} from "../../src/files/starter.ts";
import { formatProblems } from "../../src/problem.ts";
import { weighed as solvePlan } from "../helpers/answers.ts";
import { diskReader, memoryReader } from "../helpers/files.ts";
import { seeds, slow } from "../helpers/seeds.ts";
import { ROOT, testWorld } from "../helpers/world.ts";

const recipesDir = join(ROOT, "recipes");
const crops = readdirSync(join(recipesDir, "crops")).map((name) => name.replace(".yaml", ""));
const shippedEntries = new Map(
  readdirSync(join(recipesDir, "amendments"))
    .filter((name) => name !== "all.yaml")
    .flatMap((name) => [...entriesOf(readFileSync(join(recipesDir, "amendments", name), "utf8"))]),
);

const folders: string[] = [];
function emptyFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), "barrowmix-"));
  folders.push(folder);
  return folder;
}
afterAll(() => {
  for (const folder of folders) rmSync(folder, { recursive: true });
});

const run = async (cwd: string, ...argv: string[]) => {
  const world = testWorld({ cwd });
  const code = await main(argv, world);
  return { code, ...world.written };
};
const everyFile = (folder: string): string[] =>
  readdirSync(folder, { recursive: true, encoding: "utf8" })
    .filter((name) => /\.(yaml|json)$/.test(name))
    .sort();

const BEGIN = ["init", "garden", "--recipe", "tomato", "--area", "1500 sq ft"];
const FILES = [
  "garden/amendments.yaml",
  "garden/mix.yaml",
  "garden/plan.yaml",
  "garden/schemas/amendments.schema.json",
  "garden/schemas/mix.schema.json",
  "garden/schemas/plan.schema.json",
];

describe("init with flags", () => {
  slow("writes files that check finds nothing wrong with", async () => {
    const folder = emptyFolder();
    expect(await run(folder, ...BEGIN, "--plants", "240", "--yes")).toMatchObject({ code: 0, stderr: "" });
    expect(everyFile(folder)).toEqual(FILES);
    const checked = checkFiles(diskReader, FILES.slice(0, 3), { cwd: folder, recipesDir });
    expect(checked.map((c) => [c.kind, c.problems, c.warnings])).toEqual([
      ["amendments", [], []],
      ["mix", [], []],
      ["plan", [], []],
    ]);
    const plan = readFileSync(join(folder, "garden/plan.yaml"), "utf8");
    expect(plan.split("\n")[0]).toBe("# yaml-language-server: $schema=schemas/plan.schema.json");
    expect(existsSync(join(folder, "garden/schemas/plan.schema.json"))).toBe(true);
    expect(readFileSync(join(folder, "garden/amendments.yaml"), "utf8")).toMatch(
      /THE PRICES ARE PLACEHOLDERS/,
    );
  });

  it("puts every answer where it belongs", async () => {
    const folder = emptyFolder();
    const flags = ["--plants", "1,200", "--yield", "80 t/ha", "--units", "metric", "--currency", "EUR"];
    const more = ["--soil-temperature", "14 C", "--applications", "4", "--batch", "80 L"];
    const chosen = ["--only", "feather-meal,poultry-pellets, potassium-sulfate"];
    const done = await run(
      folder,
      "init",
      "--recipe",
      "tomato",
      "--area",
      "0.25 ha",
      ...flags,
      ...more,
      ...chosen,
    );
    expect(done).toMatchObject({ code: 0, stderr: "" });
    const loaded = loadPlan(diskReader, { cwd: folder, recipesDir, planFile: "plan.yaml" });
    if (!loaded.ok) throw new Error(formatProblems(loaded.problems));
    const { plan } = loaded.value;
    expect(plan).toMatchObject({
      currency: "EUR",
      units: "metric",
      bed: { areaM2: 2500, plants: 1200 },
      soilTemperatureC: [[0, 14]],
      batch: { litres: 80 },
      blend: "one",
    });
    expect(plan.amendments.map((a) => a.id)).toEqual([
      "feather-meal",
      "potassium-sulfate",
      "poultry-pellets",
    ]);
    expect(plan.applications).toHaveLength(4);
    // 2.75 kg N per tonne (Hegde 1997, FFTC Extension Bulletin 441, middle of 2.5-3) x 80 t/ha x 0.25 ha.
    expect(plan.demands[0]!.minKg).toBeCloseTo(2.75 * 80 * 0.25, 9);
  });

  slow("writes metric packs for a metric plan, at about the price of a pound", async () => {
    const ids = "blood-meal,feather-meal,greensand,gypsum,kelp-meal,poultry-pellets,potassium-sulfate";
    const packsOf = async (units: string) => {
      const folder = emptyFolder();
      const done = await run(
        folder,
        ...["init", "--recipe", "tomato", "--area", "300 m2", "--units", units, "--only", ids, "--yes"],
      );
      expect(done).toMatchObject({ code: 0, stderr: "" });
      const text = readFileSync(join(folder, "amendments.yaml"), "utf8");
      const loaded = loadPlan(diskReader, { cwd: folder, recipesDir, planFile: "plan.yaml" });
      if (!loaded.ok) throw new Error(formatProblems(loaded.problems));
      return { text, packs: loaded.value.plan.amendments.flatMap((a) => a.packs) };
    };
    const [us, metric] = [await packsOf("us"), await packsOf("metric")];
    expect(metric.text).not.toMatch(/(size|per|stock): [^,}]*lb\b/);
    expect(metric.packs).toHaveLength(us.packs.length);
    for (const [i, pack] of metric.packs.entries()) {
      expect([25, 20, 15, 10, 2.5, 2, 0.5]).toContain(pack.sizeKg);
      const was = us.packs[i]!;
      expect(Math.abs(pack.price - (was.price / was.sizeKg) * pack.sizeKg)).toBeLessThanOrEqual(0.25 + 1e-9);
    }
  });

  it("leaves nothing behind where one of the files cannot be made", async () => {
    const folder = emptyFolder();
    mkdirSync(join(folder, "garden"));
    // Where the folder of the schemas should be.
    writeFileSync(join(folder, "garden/schemas"), "mine");
    const done = await run(folder, "init", "garden", "--recipe", "pepper", "--area", "100 sq ft", "--yes");
    expect(done.code).toBe(2);
    expect(readdirSync(join(folder, "garden"))).toEqual(["schemas"]);
    expect(readFileSync(join(folder, "garden/schemas"), "utf8")).toBe("mine");
  });

  it("never overwrites, names what is there, and then writes nothing at all", async () => {
    const folder = emptyFolder();
    await run(folder, ...BEGIN);
    const before = everyFile(folder).map((name) => readFileSync(join(folder, name), "utf8"));
    const again = await run(folder, "init", "garden", "--recipe", "pepper", "--area", "1 acre");
    expect(again.code).toBe(2);
    expect(again.stdout).toBe("");
    for (const file of FILES) expect(again.stderr).toContain(file);
    expect(everyFile(folder).map((name) => readFileSync(join(folder, name), "utf8"))).toEqual(before);

    const other = emptyFolder();
    writeFileSync(join(other, "mix.yaml"), "mine\n");
    const refused = await run(other, "init", "--recipe", "tomato", "--area", "1 acre");
    expect(refused.code).toBe(2);
    expect(refused.stderr).toMatch(/^barrowmix: mix\.yaml is there already/);
    expect(everyFile(other)).toEqual(["mix.yaml"]);
  });

  it.each([
    [[], /--recipe and --area must be given; --plants, --yield/],
    [["--recipe", "tomato", "--yes"], /--area must be given/],
    [
      ["--recipe", "tomatoe", "--area", "1 acre"],
      /--recipe: there is no shipped crop `tomatoe`; did you mean `tomato`\?/,
    ],
    [["--recipe", "tomato", "--area", "1500"], /--area: `1500` has no unit/],
    [["--recipe", "tomato", "--area", "0 acre"], /--area: `0 acre` is zero/],
    [["--recipe", "tomato", "--area", "1 acre", "--plants", "2.5"], /--plants: `2.5` is not a whole number/],
    [["--recipe", "tomato", "--area", "1 acre", "--applications", "13"], /--applications: .* from 1 to 12/],
    [
      ["--recipe", "tomato", "--area", "1 acre", "--soil-temperature", "18"],
      /--soil-temperature: `18` has no unit/,
    ],
    [["--recipe", "tomato", "--area", "1 acre", "--currency", "usd"], /--currency: `usd` is not a currency/],
    [["--recipe", "tomato", "--area", "1 acre", "--batch", "3 ft"], /--batch: `3 ft` is a length/],
    [["--recipe", "tomato", "--area", "1 acre", "--yield", "25 t"], /--yield: `25 t` is a weight/],
    [["--recipe", "tomato", "--area", "1 acre", "--only", "fether-meal"], /did you mean `feather-meal`\?/],
    [["--recipe", "tomato", "--area", "1 acre", "--only", ","], /--only names no amendment/],
  ])("refuses %j and writes nothing", async (flags, message) => {
    const folder = emptyFolder();
    const { code, stdout, stderr } = await run(folder, "init", ...flags);
    expect(code).toBe(2);
    expect(stdout).toBe("");
    expect(stderr).toMatch(message);
    expect(readdirSync(folder)).toEqual([]);
  });

  it("says so where it cannot write", async () => {
    const folder = emptyFolder();
    writeFileSync(join(folder, "taken"), "");
    const { code, stderr } = await run(folder, "init", "taken", "--recipe", "tomato", "--area", "1 acre");
    expect(code).toBe(2);
    expect(stderr).toMatch(/taken/);
    expect(stderr).not.toMatch(/\n\s+at /);
  });
});

describe("init at a terminal", () => {
  const person = (answers: Readonly<Record<string, string | readonly string[]>>) => {
    const asked: string[] = [];
    const find = (question: string): string | readonly string[] | undefined => {
      asked.push(question);
      return Object.entries(answers).find(([part]) => question.includes(part))?.[1];
    };
    const asker: Asker = {
      one: async (question, choices: readonly Choice[], usual) => {
        const answer = find(question) ?? usual;
        expect(choices.map((c) => c.value)).toContain(answer);
        return answer as string;
      },
      several: async (question, choices) => {
        const answer = find(question) ?? choices.filter((c) => c.chosen).map((c) => c.value);
        return answer as readonly string[];
      },
      text: async (question, usual, check) => {
        const answer = (find(question) ?? usual) as string;
        expect(check(answer), question).toBeNull();
        return answer;
      },
    };
    return { asked, asker };
  };
  const at = (cwd: string) => {
    const world = { ...testWorld({ cwd, tty: true }), stdin: { isTTY: true, read: () => "" } };
    return {
      world,
      files: filesOf(world),
      flags: { format: "table", units: undefined, quiet: false, all: false } as const,
      typed: [],
      commands: [],
    };
  };

  it("asks what no flag says, and takes what is usual on return", async () => {
    const folder = emptyFolder();
    const { asked, asker } = person({ "Which crop": "pepper", "How large": "1,500 sq ft" });
    const { exitCode } = await initWith(undefined, {}, at(folder), async () => asker);
    expect(exitCode).toBe(0);
    expect(asked).toHaveLength(10);
    // 1500 sq ft at 18 in x 3 ft, 4.5 sq ft a plant.
    expect(asked.find((q) => q.includes("How many plants"))).toContain("18 in x 3 ft apart about 333;");
    expect(readFileSync(join(folder, "plan.yaml"), "utf8")).toContain(
      "# Plants are usually 18 in x 3 ft apart",
    );
    const loaded = loadPlan(diskReader, { cwd: folder, recipesDir, planFile: "plan.yaml" });
    if (!loaded.ok) throw new Error(formatProblems(loaded.problems));
    expect(loaded.value.plan.targetName).toMatch(/Pepper/);
    expect(loaded.value.plan.amendments.map((a) => a.id)).toEqual([...USUAL_AMENDMENTS].sort());
  });

  it("asks nothing that a flag has said, and offers units before quantities", async () => {
    const { asked, asker } = person({ "Which units": "metric", "How large": "150 m2" });
    const { exitCode } = await initWith("x", { recipe: "kale" }, at(emptyFolder()), async () => asker);
    expect(exitCode).toBe(0);
    expect(asked.some((q) => q.includes("Which crop"))).toBe(false);
    // Kale at 15 in x 30 in is 38.1 cm x 76.2 cm, 0.29 m2 a plant; 10 short tons an acre are 22.4 t/ha.
    expect(asked.find((q) => q.includes("How many plants"))).toContain("38 x 76 cm apart about 517;");
    expect(asked.find((q) => q.includes("Which yield"))).toContain("10 ton/acre, about 22 t/ha");
    expect(asked.findIndex((q) => q.includes("units"))).toBeLessThan(
      asked.findIndex((q) => q.includes("large")),
    );
  });

  it("asks nothing with --yes, or where a flag is wrong", async () => {
    const never = async (): Promise<Asker> => {
      throw new Error("asked");
    };
    const folder = emptyFolder();
    const flags = { recipe: "kale", area: "1 acre" };
    expect((await initWith(undefined, { ...flags, yes: true }, at(folder), never)).exitCode).toBe(0);
    await expect(initWith("y", { recipe: "kael" }, at(folder), never)).rejects.toThrow(
      "did you mean `kale`?",
    );
  });
});

describe("the usual choice of amendments", () => {
  it("is cut from the shipped files as it stands there", () => {
    for (const id of USUAL_AMENDMENTS)
      expect(shippedEntries.get(id), id).toMatch(/^ {2}[a-z-]+:\n {4}name: /);
    for (const [id, text] of shippedEntries) {
      const file = readdirSync(join(recipesDir, "amendments"))
        .map((name) => readFileSync(join(recipesDir, "amendments", name), "utf8"))
        .find((whole) => whole.includes(text));
      expect(file, id).toBeDefined();
    }
  });

  const cases = crops.flatMap((crop) =>
    (
      [
        [1, "14 C"],
        [3, "18 C"],
        [6, "25 C"],
      ] as const
    ).map(([applications, temperature]) => ({ crop, applications, temperature })),
  );
  it.each(cases.filter((_, k) => k % seeds(3, 1) === 0))(
    "feeds $crop in $applications at $temperature",
    async ({ crop, applications, temperature }) => {
      const season = Number(
        /^season: (\d+) days/m.exec(readFileSync(join(recipesDir, "crops", `${crop}.yaml`), "utf8"))![1],
      );
      const files: readonly StarterFile[] = starterFiles(
        {
          crop,
          units: "metric",
          currency: "EUR",
          area: "1 ha",
          plants: undefined,
          yield: undefined,
          temperature,
          applications,
          batch: USUAL.metric.batch,
          amendments: USUAL_AMENDMENTS,
        },
        {
          name: crop,
          seasonDays: season,
          yield: undefined,
          spacing: { us: "18 in x 5 ft", metric: "45 x 150 cm", plantM2: 0.7 },
        },
        shippedEntries,
        { plan: {}, amendments: {}, mix: {} },
      );
      const memory = memoryReader(
        Object.fromEntries(files.map(({ path, text }) => [`/garden/${path}`, text])),
      );
      const loaded = loadPlan(
        { read: (path) => memory.read(path) ?? diskReader.read(path) },
        { cwd: "/garden", recipesDir, planFile: "plan.yaml" },
      );
      if (!loaded.ok) throw new Error(formatProblems(loaded.problems));
      expect(loaded.value.plan.warnings).toEqual([]);
      // Where nothing else is asked for, the plan is read on one screen; each round more is one line.
      const lines = files[0]!.text.trimEnd().split("\n").length;
      expect(lines - Math.max(0, applications - USUAL_APPLICATIONS)).toBeLessThanOrEqual(45);
      expect((await solvePlan(loaded.value.plan)).status).toBe("optimal");
    },
  );

  it("is spread on days before the season's end", () => {
    for (let count = 1; count <= 12; count++) {
      const days = applicationDays(count, 60);
      expect(days[0]).toBe(0);
      expect(new Set(days).size).toBe(count);
      expect(Math.max(...days)).toBeLessThan(60);
    }
  });
});

describe("from nothing to a solved plan", () => {
  it.each(seeds(["tomato"], ["tomato", "snap-bean", "celery"]))("takes three commands: %s", async (crop) => {
    const folder = emptyFolder();
    const begun = await run(folder, "init", "garden", "--recipe", crop, "--area", "1500 sq ft", "--yes");
    const checked = await run(
      folder,
      "check",
      "garden/plan.yaml",
      "garden/amendments.yaml",
      "garden/mix.yaml",
    );
    const solved = await run(folder, "solve", "garden/plan.yaml", "--json");
    expect([begun.code, checked.code, solved.code, solved.stderr]).toEqual([0, 0, 0, ""]);
    const solution = JSON.parse(solved.stdout) as { status: string; cost: { gap: number } };
    expect(solution.status).toBe("optimal");
    expect(solution.cost.gap!).toBeLessThanOrEqual(1e-6);
  });
});
