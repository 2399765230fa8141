/** `solve --save`: begins a season with what was decided. */
import { basename, dirname, relative, resolve } from "node:path";
import type { Override } from "../files/load.ts";
import type { Solution } from "../results/solution.ts";
import { type Context, UsageError } from "./command.ts";
import { STDIN, USUAL_PLAN } from "./plan-options.ts";

/**
 * Begins a season: writes its file, and never over one that exists.
 * @param changed what flags changed of the plan.
 * @returns what was written, for stderr.
 * @throws UsageError where there is no answer, no day of planting, or a file of that name.
 */
export async function saveSeason(
  solution: Solution,
  planFiles: readonly string[],
  target: string,
  changed: readonly Override[],
  { world }: Context,
): Promise<string> {
  const { plans } = solution.inputs;
  if (target.endsWith(".json"))
    throw new UsageError(
      "--save begins a season, a YAML file such as season.yaml; an answer is kept by `--json --out answer.json`",
    );
  const [planFile, other] = planFiles.length === 0 ? [USUAL_PLAN] : planFiles;
  if (solution.status === "infeasible")
    throw new UsageError("--save: there is no mix to begin a season with");
  if (planFile === STDIN || world.files.read(resolve(world.cwd, planFile!)) === null)
    throw new UsageError("--save: a season needs a plan file to name");
  if (other !== undefined)
    throw new UsageError("--save: a season is begun for one plan or one farm; save each by itself");
  if (plans[0]!.planted === undefined)
    throw new UsageError(
      "--save: the plan does not say when the crop is planted: add `planted: 2027-05-20`, or --set planted=2027-05-20",
    );
  const path = resolve(world.cwd, target);
  if (world.files.list(dirname(path)).includes(basename(path)))
    throw new UsageError(
      `--save: there is a file ${target} already, and a season is never written over; name another`,
    );
  const { seasonText } = await import("../flow/season-begin.ts");
  const plan = relative(dirname(path), resolve(world.cwd, planFile!));
  world.files.makeNew(new Map([[path, seasonText(solution, plans, plan, plans[0]!.planted)]]));
  // How sure it was and when it was planted is written there.
  const flags = changed.flatMap(({ path, flag }) =>
    path[0] === "sure" || path[0] === "planted" ? [] : [flag],
  );
  const again =
    flags.length === 0
      ? ""
      : ` The season reads ${plan}, which does not say what ${[...new Set(flags)].join(" and ")} changed: write it there too.`;
  return `Wrote ${target}: \`barrowmix log ${target} "DATE spread ROUND"\` adds to it, \`barrowmix now ${target}\` says what to do.${again}`;
}
