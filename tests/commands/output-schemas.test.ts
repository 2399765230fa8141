/** What commands print as JSON, held against the schemas that ship, by ajv in its strict mode. */
import { existsSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { Ajv2020, type ValidateFunction } from "ajv/dist/2020.js";
import { describe, expect, it } from "vitest";
import { main } from "../../src/cli.ts";
import { OUTPUT_KINDS } from "../../src/commands/schema.ts";
import { seeds, slow } from "../helpers/seeds.ts";
import { ROOT, testWorld } from "../helpers/world.ts";

const DEMO = join(ROOT, "examples/brassica-terraces");
const PLAN = join(DEMO, "plan.yaml");
const INFEASIBLE = join(ROOT, "tests/cases/infeasible/plan.yaml");

/** A price list for those that read one. */
const LIST = "id,size,price,supplier\nfeather-meal,50 lb,41.00,\nfeather-meal,5 lb,9,mill\n";

/** Takes a change of a file, and writes nothing. */
function changedNowhere(path: string, change: (text: string | null) => string | null): void {
  change(readFileSync(path, "utf8"));
}

/** What a command prints; `init` and `log` write nothing. */
async function printed(args: readonly string[]): Promise<string> {
  const world = testWorld({ stdin: LIST, files: { makeNew: () => {}, update: changedNowhere } });
  await main(args, world);
  return world.written.stdout;
}

/** A validator of draft 2020-12, which the schemas of files are in too; `number | null` is a union that strict mode otherwise forbids. */
async function validator(kind: string): Promise<ValidateFunction> {
  const ajv = new Ajv2020({ strict: true, allowUnionTypes: true });
  const schema = JSON.parse(await printed(["schema", kind])) as { readonly $schema: string };
  expect(schema.$schema).toBe(JSON.parse(await printed(["schema", "plan"])).$schema);
  expect(JSON.stringify(schema)).not.toMatch(/"definitions"|additionalItems|"items":\[/);
  return ajv.compile(schema);
}

const OUTPUTS: Readonly<Record<(typeof OUTPUT_KINDS)[number], readonly (readonly string[])[]>> = {
  solution: [
    ["solve", PLAN],
    ["solve", INFEASIBLE],
    ["solve", PLAN, "--most", "3"],
    ["solve", PLAN, "--by", "weight", "--all"],
    ["solve", PLAN, "--all"],
    ["shop", PLAN],
    ["shop", PLAN, "--budget", "1"],
    ["shop", INFEASIBLE],
  ],
  comparison: [
    ["whatif", PLAN, "--case", "dear: --price all=+10%", "--case", "none: --exclude feather-meal"],
    ["whatif", INFEASIBLE, "--price", "all=+10%"],
    ["whatif", PLAN, "--exclude", "feather-meal", "--by", "weight"],
  ],
  sweep: [
    ["sweep", PLAN, "--price", "feather-meal", "--from", "-30%", "--to", "+60%", "--steps", "5"],
    ["sweep", PLAN, "--cap", "P2O5", "--from", "40 lb", "--to", "90 lb", "--steps", "2", "--by", "weight"],
    ["sweep", PLAN, "--sure", "P2O5", "--from", "90%", "--to", "99%", "--steps", "2"],
  ],
  assay: [
    ["assay", join(DEMO, "mix.yaml")],
    ["assay", join(DEMO, "mix.yaml"), "--against", PLAN],
  ],
  card: [["card", PLAN]],
  now: [
    ["now", join(DEMO, "season.yaml")],
    ["now", PLAN, "--rain", "4 in", "--on", "30"],
    ["now", join(DEMO, "season.yaml"), "--on", "120"],
  ],
  log: [["log", join(DEMO, "season.yaml"), "2027-09-20 rain 1 in"]],
  record: [["record", join(DEMO, "season.yaml")]],
  check: [["check", PLAN, join(ROOT, "tests/cases/bad-plan/plan.yaml")]],
  list: ["amendments", "crops", "releases", "units", "cautions"].map((topic) => ["list", topic]),
  init: [
    ["init", "garden", "--recipe", "pepper", "--area", "1500 sq ft", "--yes"],
    [
      "init",
      "garden",
      "--recipe",
      "tomato",
      "--area",
      "140 m2",
      "--units",
      "metric",
      "--plants",
      "240",
      "--yes",
    ],
  ],
  failure: [],
};

describe("the schemas of outputs", () => {
  it.each(OUTPUT_KINDS)("%s: has an id and a title, and ships", async (kind) => {
    const schema = JSON.parse(await printed(["schema", kind])) as Record<string, unknown>;
    expect(schema.$id).toBe(`urn:barrowmix:${kind}:1`);
    expect(schema.title).toBe(`barrowmix: ${kind}`);
    const shipped = join(ROOT, `dist/schemas/${kind}.schema.json`);
    expect(existsSync(shipped)).toBe(true);
    expect(JSON.parse(readFileSync(shipped, "utf8"))).toEqual(schema);
  });

  const printing = OUTPUT_KINDS.filter((kind) => OUTPUTS[kind].length > 0);
  it.each(seeds(["solution", "check", "list"] as const, printing))(
    "%s: real outputs keep to it",
    async (kind) => {
      const validate = await validator(kind);
      for (const args of OUTPUTS[kind].slice(0, seeds(1, Infinity))) {
        const value = JSON.parse(await printed([...args, "--json"])) as Record<string, unknown>;
        validate(value);
        expect([args, validate.errors]).toEqual([args, null]);
      }
    },
  );

  it("hold something: an output without one of its fields is refused", async () => {
    const validate = await validator("solution");
    const value = JSON.parse(await printed(["solve", PLAN, "--json"])) as Record<string, unknown>;
    for (const field of ["schema", "status", "cost", "mixes", "beds", "verification", "cautions"]) {
      const { [field]: _, ...lacking } = value;
      expect([field, validate(lacking)]).toEqual([field, false]);
    }
    expect(validate({ ...value, cost: { total: "84.65", perPlant: null } })).toBe(false);
  });

  slow("a line of several plans is a solution with its file, or a failure", async () => {
    const lines = (await printed(["solve", PLAN, "no-such.yaml", INFEASIBLE, "--ndjson"]))
      .trimEnd()
      .split("\n");
    const [first, second, third, ...more] = lines.map((line) => JSON.parse(line) as Record<string, unknown>);
    expect(more).toEqual([]);
    const solution = await validator("solution");
    const failure = await validator("failure");
    expect([first!.file, solution(first)]).toEqual([PLAN, true]);
    expect([second!.file, failure(second)]).toEqual(["no-such.yaml", true]);
    expect([third!.file, solution(third)]).toEqual([INFEASIBLE, true]);
  });
});
