/** The columns of CSV: the same on every run of a command, and those that `examples/scripts/README.md` lists. */
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { main } from "../../src/cli.ts";
import { slow } from "../helpers/seeds.ts";
import { ROOT, testWorld } from "../helpers/world.ts";

const PLAN = "examples/brassica-terraces/plan.yaml";
const BROKEN = "tests/cases/infeasible/plan.yaml";
const MIX = "examples/brassica-terraces/mix.yaml";
const listed = new Map(
  [
    ...readFileSync(join(ROOT, "examples/scripts/README.md"), "utf8").matchAll(
      /^\| `(\w+)` \| [^|]+ \| ([a-z].*) \|$/gm,
    ),
  ].map((match) => [match[1]!, match[2]!.split(", ").join(",")]),
);

async function headOf(args: readonly string[]): Promise<{ head: string; rows: string[]; code: number }> {
  const world = testWorld({ cwd: ROOT });
  const code = await main([...args, "--format", "csv"], world);
  const [head, ...rows] = world.written.stdout.trimEnd().split("\r\n");
  return { head: head!, rows, code };
}

describe("the columns of CSV", () => {
  const runs: Readonly<Record<string, readonly (readonly string[])[]>> = {
    solve: [[PLAN], [BROKEN], [PLAN, "--blend", "each"]],
    card: [[PLAN], [BROKEN]],
    shop: [[PLAN], [BROKEN], [PLAN, "--application", "planting"]],
    assay: [[MIX], [MIX, "--against", PLAN]],
  };
  it.each(Object.entries(runs).map(([name, argLists]) => ({ name, argLists })))(
    "$name",
    async ({ name, argLists }) => {
      expect(listed.get(name)).toBeDefined();
      for (const args of argLists) {
        const { head, rows, code } = await headOf([name, ...args]);
        expect(head, args.join(" ")).toBe(listed.get(name));
        expect(rows.length).toBeGreaterThan(0);
        expect(code).toBe(args.includes(BROKEN) ? 3 : 0);
      }
    },
  );

  slow.each([
    {
      runs: [
        ["solve", PLAN],
        ["solve", PLAN, PLAN],
        ["solve", PLAN, "--by", "weight"],
        ["solve", BROKEN],
        ["solve", PLAN, BROKEN],
        ["card", PLAN],
      ],
    },
    {
      runs: [
        ["shop", PLAN],
        ["shop", PLAN, PLAN],
        ["shop", BROKEN],
      ],
    },
    {
      runs: [
        ["assay", MIX, MIX],
        ["assay", MIX, "no-such.yaml"],
      ],
    },
  ])("one plan or several, $runs.0", async ({ runs }) => {
    const heads = [];
    for (const args of runs) heads.push((await headOf(args)).head);
    expect(new Set(heads).size, heads.join("\n")).toBe(1);
    expect(heads[0]).toContain(",");
  });
});
