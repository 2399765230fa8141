/** What the program printed as JSON before, read again: the plans in it, and how they were asked. */
import { isRecord } from "../files/source.ts";
import type { AnswerOptions } from "../flow/answer.ts";
import type { Plan } from "../model.ts";
import { defined } from "../optional.ts";
import { allOf, fail, ok, type Problem, type Result } from "../problem.ts";
import type { Sharing } from "../results/solution.ts";

/** Plans and what was asked of them. */
export interface AskedAgain {
  readonly plans: readonly [Plan, ...Plan[]];
  readonly options: Pick<AnswerOptions, "by" | "budget" | "mostLeft" | "application" | "sharing" | "name">;
}

/** A plan in JSON has one of these, what the program prints has none. */
const PLAN_KEYS = ["target", "recipe", "bed"];
const SOLUTION = "barrowmix.solution/2";
const SEASON = "barrowmix.season/1";
const OLD = ["barrowmix.solution/1", "barrowmix.shopping/1"];

const ALONE = "run the command before the pipe by itself to see what it says";

/**
 * Reads what `solve --json` printed; every fault is named with its path. Nothing in it is believed but what was asked.
 * @param file its name as shown to people; null: standard input.
 * @returns null where the text is not such JSON and may be a plan file (YAML, or JSON with a plan's keys).
 */
export async function askedAgain(text: string, file: string | null): Promise<Result<AskedAgain | null>> {
  const trimmed = text.trim();
  const name = file ?? "standard input";
  if (trimmed === "" && file === null)
    return fail({
      code: "stdin-empty",
      message: "nothing came in on standard input",
      hint: `the command before the pipe may have failed: ${ALONE}`,
    });
  // A plan may be written in braces too, but then without quotes round its keys.
  if (!/^\{\s*"/.test(trimmed)) return ok(null);
  const whole = parsed(trimmed);
  // Of a season, what is left of it.
  const said = whole?.schema === SEASON && isRecord(whole.rest) ? whole.rest : whole;
  if (said && PLAN_KEYS.some((key) => Object.hasOwn(said, key))) return ok(null);
  if (typeof said?.schema === "string" && OLD.includes(said.schema))
    return fail({
      code: "saved-old",
      message: `${name} was written by an earlier version (${said.schema})`,
      hint: "solve the plan file again; what is printed now goes through a pipe",
    });
  if (said?.schema !== SOLUTION) return fail(unasked(name, whole === undefined, said?.schema));
  const { inputs } = said;
  if (!isRecord(inputs) || !Array.isArray(inputs.plans))
    return fail({
      code: "stdin-inputs",
      message: `the solution on ${name} does not carry its plans whole (\`inputs\`)`,
      hint: "use the JSON of `barrowmix solve --json` as it is printed",
    });
  const { readPlanValue } = await import("../files/load.ts");
  const plans = allOf(inputs.plans.map((plan, p) => readPlanValue(plan, ["inputs", "plans", p])));
  if (!plans.ok) return plans;
  const [first, ...others] = plans.value;
  if (first === undefined) return fail(broken(name, "inputs.plans", "at least one plan"));
  const { by, budget, mostLeft, application } = inputs;
  if (by !== "purchase" && by !== "weight") return fail(broken(name, "inputs.by", "`purchase` or `weight`"));
  if (budget !== undefined && !isAmount(budget))
    return fail(broken(name, "inputs.budget", "an amount of money of at least 0"));
  if (mostLeft !== undefined && !isMostLeft(mostLeft))
    return fail(broken(name, "inputs.mostLeft", "`{kg}` or `{share}`, at least 0"));
  if (application !== undefined && typeof application !== "string")
    return fail(broken(name, "inputs.application", "the name of an application"));
  const { sharing } = inputs;
  if (sharing !== undefined && !isSharing(sharing, plans.value.length))
    return fail(broken(name, "inputs.sharing", "how beds share mixes, as a farm says it"));
  // Only of a farm does the name say more than those of its plans.
  const farm = sharing !== undefined && typeof said.name === "string" ? said.name : undefined;
  return ok({
    plans: [first, ...others],
    options: { by, ...defined({ budget, mostLeft, application, sharing, name: farm }) },
  });
}

function unasked(name: string, broken: boolean, schema: unknown): Problem {
  if (broken)
    return {
      code: "stdin-json",
      message: `${name} is not whole JSON: it breaks off or is not what \`solve --json\` prints`,
      hint: `the command before the pipe may have been stopped: ${ALONE}`,
    };
  return {
    code: "stdin-schema",
    message:
      schema === undefined
        ? `${name} is JSON, but neither a plan nor what \`solve --json\` prints`
        : `${name} is JSON of another kind: schema ${JSON.stringify(schema)}`,
    hint: `\`-\` takes a plan, or what \`barrowmix solve --json\` prints (schema ${SOLUTION})`,
  };
}

/** @returns undefined where it is not whole JSON, null where it is no map. */
function parsed(json: string): Readonly<Record<string, unknown>> | null | undefined {
  try {
    const value: unknown = JSON.parse(json);
    return isRecord(value) ? value : null;
  } catch {
    return undefined;
  }
}

const isAmount = (value: unknown): value is number =>
  typeof value === "number" && Number.isFinite(value) && value >= 0;

function isMostLeft(value: unknown): value is NonNullable<AnswerOptions["mostLeft"]> {
  if (!isRecord(value)) return false;
  return isAmount(value.kg) !== isAmount(value.share) && Object.keys(value).length === 1;
}

function isSharing(value: unknown, beds: number): value is Sharing {
  if (!isRecord(value)) return false;
  const { mostMixes, pins, heap, alone } = value;
  const isPin = (pin: unknown): boolean => pin === null || (typeof pin === "string" && /^[A-Z]$/.test(pin));
  const isBound = (one: unknown): boolean =>
    isRecord(one) &&
    typeof one.id === "string" &&
    [one.minKg, one.maxKg].every((kg) => kg === undefined || isAmount(kg));
  return (
    (mostMixes === undefined || (Number.isInteger(mostMixes) && Number(mostMixes) >= 1)) &&
    (pins === undefined || (Array.isArray(pins) && pins.length === beds && pins.every(isPin))) &&
    (alone === undefined || typeof alone === "boolean") &&
    (heap === undefined || (Array.isArray(heap) && heap.every(isBound)))
  );
}

function broken(name: string, path: string, right: string): Problem {
  return {
    code: "saved-broken",
    message: `\`${path}\` on ${name} is not ${right}`,
    hint: "use the JSON of `barrowmix solve --json` as it is written",
  };
}
