/**
 * Mutated files, pipes and flags through the whole program, in process: whatever comes in, the program ends with 0, 2 or 3,
 * says why in words, and never takes long. Exit 1 is a fault of the program, and so is exit 4 where nobody wrote down why.
 */
import { readFileSync } from "node:fs";
import { join, resolve } from "node:path";
import { main } from "../../src/cli.ts";
import type { World } from "../../src/commands/world.ts";
import { type Random, seeded } from "../helpers/random.ts";
import { testWorld } from "../helpers/world.ts";

const ROOT = process.cwd();
const GARDEN = "/garden";
const HANG_MS = 5000;

const example = (name: string): string =>
  readFileSync(join(ROOT, "examples/brassica-terraces", name), "utf8");
const FILES = {
  "plan.yaml": example("plan.yaml"),
  "amendments.yaml": example("amendments.yaml"),
  "target.yaml": example("target.yaml"),
  "mix.yaml": example("mix.yaml"),
  "cases.yaml": readFileSync(join(ROOT, "examples/scripts/cases.yaml"), "utf8"),
  "list.csv": "id,size,price,supplier\nmeal,50 lb,41.00,farm-store\nash,per lb,1.25,\nother,per lb,2,\n",
  "farm.yaml":
    "farm: own\namendments: shelf.yaml\nmost_mixes: 1\nalone: 0\nbatch: {size: 60 lb}\nfields:\n  low: {soil_temperature: 18 C, credits: [{from: rain, per: 1000 sq ft, N: 0.2 lb}]}\nbeds:\n  - {bed: east, target: {season: 90 days, need: {per: 1000 sq ft, N: 3 lb, K2O: 2 lb}}, plants: 200, area: 1500 sq ft, field: low, rounds: [0, 28]}\n  - {bed: kale, plan: own.yaml, mix: A}\n",
  "shelf.yaml":
    "amendments:\n  meal: {name: Meal, analysis: {N: 12, P2O5: 1}, packs: [{size: 50 lb, price: 40}], release: slow, density: 0.6 kg/L}\n  ash: {analysis: {K2O: 6}, bulk: {price: 0.3, per: lb}, release: at-once}\n",
  "season.yaml":
    "season: own.yaml\nplanted: 2027-04-10\npeople:\n  maria: {name: Maria}\nmixes:\n  A: {meal: 60 lb, ash: 50 lb}\nbatches: {A: 2}\nshed: {meal: 5 lb}\nto_buy:\n  - {meal: 2 x 50 lb, price: 80}\nlog:\n  - {day: 2027-04-01, bought: meal, packs: 1 x 50 lb, paid: 41, lot: M-1}\n  - {day: 2027-04-01, bought: ash, weight: 60 lb, paid: 18}\n  - {day: 2027-04-10, spread: planting, who: maria}\n  - {day: 2027-05-01, rain: 2.5 in, evaporation: 0.5 in}\n  - {day: 2027-05-05, soil_nitrate: 14 ppm, depth: 12 in, as: NO3-N}\n  - {day: 2027-05-06, spread: {meal: 3 lb}, placement: band, lots: {meal: M-1}}\n  - {day: 2027-05-07, left: {meal: 4 lb}}\n  - {day: 2027-05-08, void: {line: 6, day: 2027-05-06}, because: written twice}\n",
  "own.yaml":
    "plan: own\namendments:\n  meal: {name: Meal, analysis: {N: 12, P2O5: 1}, packs: [{size: 50 lb, price: 40}], release: slow, density: 0.6 kg/L}\n  ash: {analysis: {K2O: 6}, bulk: {price: 0.3, per: lb}, release: at-once}\ntarget:\n  season: 90 days\n  need: {per: 1000 sq ft, N: {min: 3 lb, max: 5 lb}, K2O: 2 lb}\n  uptake: {N: {0: 0%, 45: 50%, 90: 100%}}\nbed: {plants: 200, area: 1500 sq ft}\napplications:\n  - {name: planting, day: 0, share: 60%}\n  - {name: side-dress, day: 30, share: 40%}\nlimits: {meal: {max_share: 80%}}\ncredits:\n  - {from: compost, per: 1000 sq ft, N: 0.5 lb}\nharvest: {first: day 60}\nbatch: {size: 60 lb}\n",
} as const;
type Name = keyof typeof FILES;

/** A call, the file that is changed for it, and whether that comes through the pipe instead. */
interface Call {
  readonly argv: readonly string[];
  readonly change: Name | "solution";
  readonly pipe?: boolean;
  readonly often: number;
}
const CALLS: readonly Call[] = [
  { argv: ["check", "--json", "plan.yaml"], change: "plan.yaml", often: 8 },
  { argv: ["check", "plan.yaml"], change: "amendments.yaml", often: 8 },
  { argv: ["check", "--json", "target.yaml"], change: "target.yaml", often: 6 },
  { argv: ["check", "mix.yaml", "cases.yaml"], change: "mix.yaml", often: 4 },
  { argv: ["check", "cases.yaml"], change: "cases.yaml", often: 3 },
  { argv: ["solve", "--json", "own.yaml"], change: "own.yaml", often: 10 },
  { argv: ["solve", "--all", "own.yaml"], change: "own.yaml", often: 3 },
  { argv: ["solve", "--json", "-"], change: "own.yaml", pipe: true, often: 4 },
  { argv: ["solve", "plan.yaml"], change: "plan.yaml", often: 2 },
  { argv: ["assay", "--json", "mix.yaml"], change: "mix.yaml", often: 3 },
  { argv: ["card", "own.yaml"], change: "own.yaml", often: 2 },
  { argv: ["whatif", "own.yaml", "--price", "meal=+10%"], change: "own.yaml", often: 2 },
  {
    argv: ["sweep", "own.yaml", "--need", "N", "--from", "1 lb", "--to", "4 lb", "--steps", "4"],
    change: "own.yaml",
    often: 1,
  },
  { argv: ["shop", "--json", "own.yaml", "--time-limit", "2"], change: "own.yaml", often: 2 },
  { argv: ["shop", "--json", "-", "--time-limit", "2"], change: "solution", pipe: true, often: 4 },
  { argv: ["solve", "--json", "-"], change: "solution", pipe: true, often: 4 },
  { argv: ["solve", "--json", "own.yaml", "--prices", "list.csv"], change: "list.csv", often: 4 },
  { argv: ["shop", "own.yaml", "--prices", "list.csv"], change: "own.yaml", often: 1 },
  { argv: ["check", "list.csv"], change: "list.csv", often: 4 },
  { argv: ["check", "--json", "farm.yaml"], change: "farm.yaml", often: 4 },
  { argv: ["solve", "--time-limit", "2", "farm.yaml"], change: "farm.yaml", often: 3 },
  { argv: ["card", "--time-limit", "5", "farm.yaml"], change: "own.yaml", often: 1 },
  { argv: ["check", "season.yaml"], change: "season.yaml", often: 4 },
  { argv: ["log", "season.yaml", "2027-05-20 rain 1 in"], change: "season.yaml", often: 4 },
  { argv: ["record", "season.yaml"], change: "season.yaml", often: 3 },
  { argv: ["now", "--json", "season.yaml"], change: "season.yaml", often: 4 },
  { argv: ["now", "season.yaml"], change: "own.yaml", often: 2 },
];
const DRAWN = CALLS.flatMap((call) => Array.from({ length: call.often }, () => call));

/** Lines for `log`, one of which is changed. */
const LINES = [
  "2027-05-20 rain 2.5 in evaporation 0.5 in",
  "2027-05-20 bought meal 1 x 50 lb paid 43.50 from mill lot L-2",
  "day 30 spread side-dress part 70% by maria",
  "May 20 spread 6 lb meal placement band",
  "2027-05-20 nitrate 14 ppm depth 12 in as NO3 test strip accuracy 10%",
  "2027-05-20 left 12 lb meal note weighed",
  "2027-05-20 kept 1/4 batch A",
  "2027-05-20 void 3 2027-04-10 because written twice",
];

/** Flags with a value that is changed; each goes with `solve own.yaml`. */
const FLAGS = [
  "--plants",
  "--area",
  "--rows",
  "--batch",
  "--scale",
  "--blend",
  "--currency",
  "--only",
  "--exclude",
  "--most",
  "--least",
  "--set",
  "--soil-temperature",
  "--require",
  "--target",
  "--recipe",
  "--yield",
  "--amendments",
  "--units",
  "--format",
  "--have",
  "--by",
  "--price",
  "--budget",
  "--max-leftover",
  "--mixes",
  "--sure",
];

const TOKENS = [
  "",
  " ",
  "\t",
  "\n",
  ":",
  ": ",
  "- ",
  "{",
  "}",
  "[",
  "]",
  ",",
  "#",
  '"',
  "'",
  "|",
  ">",
  "&a ",
  "*a",
  "!x ",
  "---\n",
  "? ",
  "%",
  "@",
  "0",
  "-1",
  "1e308",
  "1e-320",
  "NaN",
  ".inf",
  "0x1F",
  "012",
  "99999999999",
  "1,5",
  "½",
  "1/0",
  "50#",
  "lb",
  " kg",
  " lb/acre",
  "day ",
  "null",
  "~",
  "true",
  "__proto__",
  "constructor",
  "\u0000",
  "\u001b[31m",
  "\u202e",
  "\ufeff",
  "\ud800",
  "é",
  "N",
  "pH",
  "only: []\n",
  "simple: {most: 1}\n",
  "blend: each\n",
  "include: [plan.yaml]\n",
  "limits: {meal: {min: 900 lb}}\n",
  "100%",
  "0%",
  "-5%",
  "2026-04-01",
];

/** Units that say the same kind of thing. */
const ALIKE = [
  ["lb", "oz", "kg", "g"],
  ["sq ft", "sq yd", "m2"],
];

/**
 * Changes that a grower could have meant: numbers made larger or smaller, other units of the same kind. What must add up or
 * be a date stays, so that most of such files are read, and solved or refused for what they ask.
 */
function soundly(text: string, random: Random): string {
  const numbers = text.replace(/(?<![\w.:-]|share: |log: |day: )\d+(?:\.\d+)?(?![\w.:-])/g, (digits) => {
    if (!random.chance(0.15)) return digits;
    const value = Number(digits) * random.pick([0.5, 0.8, 0.95, 1.05, 1.2, 2, 3]);
    return String(value >= 10 ? Math.round(value) : Number(value.toPrecision(2)));
  });
  if (random.chance(0.5)) return numbers;
  const among = random.pick(ALIKE);
  const one = random.pick(among);
  const spelled = new RegExp(`(?<=\\d )(?:${among.join("|")})(?![\\w/])`, "g");
  return numbers.replace(spelled, (unit) => (random.chance(0.3) ? one : unit));
}

/** One to three changes: something cut out, put in, put twice, swapped, or a number made odd; or only sound ones. */
function mutate(text: string, random: Random): string {
  if (random.chance(0.6)) return soundly(text, random);
  let now = text;
  for (let n = random.pick([1, 1, 1, 2, 3]); n > 0; n--) {
    const at = random.whole(0, now.length);
    const lines = now.split("\n");
    const i = random.whole(0, lines.length - 1);
    switch (random.whole(0, 8)) {
      case 0:
        now = now.slice(0, at) + now.slice(at + random.whole(1, 12));
        break;
      case 1:
        now = now.slice(0, at) + random.pick(TOKENS) + now.slice(at);
        break;
      case 2:
        now = [...lines.slice(0, i), lines[i]!, ...lines.slice(i)].join("\n");
        break;
      case 3:
        now = [...lines.slice(0, i), ...lines.slice(i + 1)].join("\n");
        break;
      case 4: {
        const numbers = [...now.matchAll(/-?\d+(?:\.\d+)?/g)];
        const one = numbers.length > 0 ? random.pick(numbers) : undefined;
        if (one) now = now.slice(0, one.index) + random.pick(TOKENS) + now.slice(one.index + one[0].length);
        break;
      }
      case 5:
        now = [
          ...lines.slice(0, i),
          `${" ".repeat(random.whole(1, 3))}${lines[i]}`,
          ...lines.slice(i + 1),
        ].join("\n");
        break;
      case 6:
      case 7:
        // Another sound number: plans that can be solved, or have no mix.
        now = now.replace(/\d+(?:\.\d+)?/g, (d) =>
          random.chance(0.1) ? String(random.whole(0, 2 * Number(d) + 1)) : d,
        );
        break;
      default:
        now = random.chance(0.3)
          ? now.slice(0, at)
          : now.replace(/(\d+)/, (d) => `${d}${random.pick(["0", "00", ".5", "e3", "%"])}`);
    }
  }
  return now;
}

/** A JSON text with one value changed for something else, or gone. */
function mutateJson(text: string, random: Random): string {
  if (random.chance(0.15)) return mutate(text, random);
  if (random.chance(0.6))
    return text.replace(/(?<=:)\d+(?:\.\d+)?(?=[,}\]])/g, (d) =>
      random.chance(0.05) ? String(Number(d) * random.pick([0.9, 1.1, 2])) : d,
    );
  const value = JSON.parse(text) as { inputs: unknown };
  let holder: unknown = value;
  let next: unknown = value.inputs;
  let key = "inputs";
  while (typeof next === "object" && next !== null && Object.keys(next).length > 0 && !random.chance(0.12)) {
    holder = next;
    key = random.pick(Object.keys(next));
    next = (next as Record<string, unknown>)[key];
  }
  const odd = [
    null,
    -1,
    0,
    1e308,
    1e-320,
    10,
    "x",
    "",
    [],
    {},
    true,
    "__proto__",
    typeof next === "number" ? next * 10 : [next],
  ];
  if (random.chance(0.2)) delete (holder as Record<string, unknown>)[key];
  else (holder as Record<string, unknown>)[key] = random.pick(odd);
  return JSON.stringify(value);
}

interface Garden extends World {
  readonly written: { stdout: string; stderr: string };
}

function gardenWorld(files: Map<string, string>, stdin: string): Garden {
  const world = testWorld({ cwd: GARDEN, stdin });
  const own = (path: string): string | undefined => files.get(path);
  return {
    ...world,
    packageDir: ROOT,
    files: {
      ...world.files,
      read: (path) => own(path) ?? (path.startsWith(ROOT) ? world.files.read(path) : null),
      list: (folder) =>
        folder === GARDEN
          ? [...files.keys()].map((p) => p.slice(GARDEN.length + 1))
          : world.files.list(folder),
      real: (path) => path,
      create: (path) => ({ commit: (text) => void files.set(path, text) }),
      update: (path, change) => {
        const after = change(own(path) ?? null);
        if (after !== null) files.set(path, after);
      },
      makeNew: () => {},
    },
  };
}

/** What is wrong with how a call ended, or null. */
function faultOf(code: number, ms: number, world: Garden): string | null {
  const { stdout, stderr } = world.written;
  if (code === 1) return "exit 1";
  if (code === 4 && !/within the time limit/.test(stderr + stdout)) return "exit 4";
  if (/\n\s+at \S+ \(|node:internal/.test(stderr + stdout)) return "a stack";
  if (code === 2 && stderr.trim() === "" && stdout.trim() === "") return "exit 2 without a word";
  // biome-ignore lint/suspicious/noControlCharactersInRegex: these are what is looked for
  if (/[\u0000-\u0008\u000b-\u001f\u202a-\u202e]/.test(stderr)) return "a control sign in a message";
  if (/\bundefined\b|\[object Object\]/.test(stderr)) return "`undefined` in a message";
  return ms > HANG_MS ? `${Math.round(ms)} ms` : null;
}

/**
 * Runs mutated inputs.
 * @param seconds stops early after so long; absent: never.
 * @param first the number of the first input, so that one that was found can be run alone, with its text printed.
 * @returns 0, or 1 where something was found.
 */
export async function checkFuzz(
  print: (line: string) => void,
  count = 40_000,
  seed = 1,
  seconds = Number.POSITIVE_INFINITY,
  first = 0,
): Promise<number> {
  const start = performance.now();
  const codes = new Map<number, number>();
  let found = 0;
  let longest = 0;
  let done = first;
  const solution = await solved();
  for (const { argv, change, pipe } of CALLS) {
    const text = change === "solution" ? solution : FILES[change];
    const world = gardenWorld(sound(), pipe ? text : "");
    const code = await main(argv, world);
    if (code !== 0)
      throw new Error(
        `before any change, ${argv.join(" ")} ends with ${code}: ${world.written.stderr}${world.written.stdout}`,
      );
  }
  for (; done < first + count && performance.now() - start < seconds * 1000; done++) {
    const random = seeded(seed * 1_000_003 + done);
    const files = sound();
    let { argv, change, pipe = false } = random.pick(DRAWN);
    let stdin = "";
    if (random.chance(0.06)) argv = ["log", "season.yaml", mutate(random.pick(LINES), random)];
    else if (random.chance(0.12)) {
      argv = [
        "solve",
        "--json",
        "own.yaml",
        random.pick(FLAGS),
        mutate(
          random.pick([
            "200",
            "1500 sq ft",
            "60 lb",
            "meal",
            "limits.meal.max=3 lb",
            "each",
            "18 C",
            "meal@40/50 lb",
            "meal=+10%",
            "90%",
          ]),
          random,
        ),
      ];
      if (random.chance(0.3))
        argv = [...argv.slice(0, 3), `${argv[3]}=${argv[4]}`, ...mutate("--all --quiet", random).split(" ")];
    } else {
      const changed = change === "solution" ? mutateJson(solution, random) : mutate(FILES[change], random);
      if (pipe) stdin = changed;
      else files.set(resolve(GARDEN, change), changed);
    }
    const world = gardenWorld(files, stdin);
    const before = performance.now();
    const code = await main(argv, world);
    const ms = performance.now() - before;
    longest = Math.max(longest, ms);
    codes.set(code, (codes.get(code) ?? 0) + 1);
    const fault = faultOf(code, ms, world);
    if (fault === null) continue;
    found++;
    print(`seed ${seed}, number ${done}: ${fault}: barrowmix ${argv.join(" ")} (${change} changed)`);
    print(world.written.stderr.slice(0, 400));
    if (count === 1) print(pipe ? stdin : (files.get(resolve(GARDEN, change)) ?? ""));
  }
  const ended = [...codes].sort(([a], [b]) => a - b).map(([code, n]) => `${n} with ${code}`);
  print(
    `${done - first} mutated inputs: ${ended.join(", ")}; longest ${Math.round(longest)} ms; ${found} wrong`,
  );
  return found === 0 ? 0 : 1;
}

function sound(): Map<string, string> {
  return new Map(Object.entries(FILES).map(([name, text]) => [resolve(GARDEN, name), text]));
}

async function solved(): Promise<string> {
  const files = new Map([[resolve(GARDEN, "own.yaml"), FILES["own.yaml"]]]) as Map<string, string>;
  const world = gardenWorld(files, "");
  await main(["solve", "--json", "own.yaml"], world);
  return world.written.stdout;
}
