/**
 * The solver against other people's problems, and against problems built from textbook statements: what it says, whether
 * it proves it, and its time beside that of HiGHS in the same run.
 *
 *  - netlib: the 19 problems of tests/fixtures/netlib, against the optima that the index prints;
 *  - the diet of Stigler 1945 (tests/data/stigler-1945.csv), and of its foods in whole tenths of a cent;
 *  - knapsack, set covering, fixed charges, cutting stock and assignment as Nemhauser and Wolsey (Integer and
 *    Combinatorial Optimization, 1988) and Chvatal (Linear Programming, 1983) state them, with random numbers;
 *  - purchases for many beds from several suppliers who deliver, as a purchase states them.
 *
 * Where nothing is printed of the optimum, HiGHS is the other side; where the two differ, both proofs are looked at.
 */
import { readFileSync } from "node:fs";
import path from "node:path";
import { solveWithHighs } from "../../src/solver/engine-highs.ts";
import { Draft, type Entry, type OtherTag, other, type Program } from "../../src/solver/program.ts";
import { solveProgram } from "../../src/solver/solve.ts";
import { costOf } from "../../src/solver/verify.ts";
import { solveWhole } from "../../src/solver/whole.ts";
import { readMps } from "../helpers/mps.ts";
import { type Random, seeded } from "../helpers/random.ts";

interface Problem {
  readonly name: string;
  readonly program: Program;
  /** Added to the program's cost. */
  readonly constant?: number;
  /** As printed elsewhere; null: no solution; absent: HiGHS says. */
  readonly optimum?: number | null;
}

const draft = (): Draft<OtherTag, OtherTag> => new Draft();
const row = other("row");

/** Largest value within one or several weights (Nemhauser and Wolsey, I.1.2). */
function knapsack(r: Random): Program {
  const d = draft();
  const items = Array.from({ length: r.whole(15, 40) }, (_, k) =>
    d.column(`x${k}`, -r.whole(5, 99), 1, true),
  );
  for (let k = 0; k < r.whole(1, 4); k++) {
    const weights = items.map((j): Entry => [j, r.whole(5, 60)]);
    d.row(row, weights, { upper: Math.floor(weights.reduce((sum, [, w]) => sum + w, 0) / 3) });
  }
  return d;
}

/** Cheapest sets that cover every element (Nemhauser and Wolsey, I.1.2). */
function covering(r: Random): Program {
  const d = draft();
  const sets = Array.from({ length: r.whole(20, 45) }, (_, k) => d.column(`s${k}`, r.whole(3, 20), 1, true));
  for (let e = 0; e < r.whole(20, 40); e++) {
    const within = sets.filter(() => r.chance(0.15));
    d.row(
      row,
      (within.length > 0 ? within : sets).map((j): Entry => [j, 1]),
      { lower: 1 },
    );
  }
  return d;
}

/** Places that cost something to open, and amounts sent from them (facility location, Nemhauser and Wolsey, I.1.4). */
function fixedCharge(r: Random): Program {
  const d = draft();
  const places = Array.from({ length: r.whole(5, 10) }, (_, k) => ({
    open: d.column(`open${k}`, r.whole(80, 400), 1, true),
    room: r.whole(60, 200),
    sent: [] as number[],
  }));
  for (let c = 0; c < r.whole(8, 16); c++) {
    const demand = r.whole(5, 30);
    const from = places.map((place, k): Entry => {
      const j = d.column(`from${k}to${c}`, r.whole(1, 20), Infinity);
      place.sent.push(j);
      return [j, 1];
    });
    d.row(row, from, { lower: demand });
  }
  for (const { open, room, sent } of places)
    d.row(row, [...sent.map((j): Entry => [j, 1]), [open, -room]], { upper: 0 });
  return d;
}

/** Rolls to be cut by patterns (Chvatal, chapter 13): every maximal pattern of three widths or fewer. */
function cutting(r: Random): Program {
  const d = draft();
  const roll = 100;
  const widths = Array.from({ length: 3 }, () => r.whole(14, 48));
  const patterns: number[][] = [];
  const most = widths.map((w) => Math.floor(roll / w));
  for (let a = 0; a <= most[0]!; a++)
    for (let b = 0; b <= most[1]!; b++) {
      const left = roll - a * widths[0]! - b * widths[1]!;
      if (left >= 0) patterns.push([a, b, Math.floor(left / widths[2]!)]);
    }
  const columns = patterns.map((_, k) => d.column(`p${k}`, 1, Infinity, true));
  widths.forEach((_, w) => {
    d.row(
      row,
      columns.map((j, k): Entry => [j, patterns[k]![w]!]),
      { lower: r.whole(20, 150) },
    );
  });
  return d;
}

/** Jobs to machines of limited time (generalised assignment, Nemhauser and Wolsey, II.5). */
function assignment(r: Random): Program {
  const d = draft();
  const machines = r.whole(3, 5);
  const jobs = r.whole(8, 15);
  const x = Array.from({ length: jobs }, () =>
    Array.from({ length: machines }, (_, m) => d.column(`m${m}`, r.whole(10, 50), 1, true)),
  );
  for (const choices of x)
    d.row(
      row,
      choices.map((j): Entry => [j, 1]),
      { lower: 1, upper: 1 },
    );
  for (let m = 0; m < machines; m++) {
    const times = x.map((choices): Entry => [choices[m]!, r.whole(5, 25)]);
    d.row(row, times, { upper: Math.ceil((times.reduce((sum, [, t]) => sum + t, 0) / machines) * 1.1) });
  }
  return d;
}

/** Packs of materials from suppliers who deliver, for beds with needs of their own: one purchase for all. */
function purchase(r: Random, beds: number, materials: number, suppliers: number): Program {
  const d = draft();
  const deliveries = Array.from({ length: suppliers }, (_, s) =>
    d.column(`to${s}`, r.whole(15, 60), 1, true),
  );
  const sold = Array.from({ length: materials }, (_, a) => {
    const perKg = r.between(0.4, 3);
    const pack = (kg: number, dearer: number): [number, number] => [
      d.column(`pack ${a} ${kg}`, Math.round(kg * perKg * dearer * 100) / 100, 400, true),
      kg,
    ];
    return {
      analysis: Array.from({ length: 4 }, () => (r.chance(0.6) ? r.between(0.01, 0.14) : 0)),
      supplier: r.whole(0, suppliers - 1),
      packs: [pack(22.68, 1), pack(5, 1.3)],
      use: [] as number[],
    };
  });
  for (let b = 0; b < beds; b++) {
    for (const one of sold) one.use.push(d.column(`use ${b}`, 0, Infinity));
    for (let n = 0; n < 4; n++) {
      const need = r.between(0.1, 0.8);
      const terms = sold.map((one): Entry => [one.use[b]!, one.analysis[n]!]);
      d.row(row, terms, { lower: need, ...(r.chance(0.3) ? { upper: need * r.between(1.5, 4) } : {}) });
    }
  }
  for (const { packs, use, supplier } of sold) {
    d.row(row, [...packs, ...use.map((j): Entry => [j, -1])], { lower: 0 });
    for (const [j] of packs)
      d.row(
        row,
        [
          [j, 1],
          [deliveries[supplier]!, -400],
        ],
        { upper: 0 },
      );
  }
  return d;
}

/** Netlib's optima; null where there is no solution. See tests/solver/netlib.test.ts and the README beside the files. */
const NETLIB: Readonly<Record<string, number | null>> = {
  afiro: -4.6475314286e2,
  adlittle: 2.2549496316e5,
  blend: -3.0812149846e1,
  boeing2: -3.1501872802e2,
  kb2: -1.7499001299e3,
  lotfi: -2.5264706062e1,
  recipe: -2.66616e2,
  sc105: -5.2202061212e1,
  sc50a: -6.4575077059e1,
  sc50b: -7e1,
  scagr7: -2.3313898243e6,
  share2b: -4.1573224074e2,
  stocfor1: -4.1131976219e4,
  "vtp.base": 1.2983146246e5,
  galenet: null,
  itest2: null,
  itest6: null,
  klein1: null,
  klein2: null,
};

/** Stigler's foods for a day, by a share of a dollar of each; `tenths` of a cent in whole numbers where asked. */
function diet(root: string, whole: boolean): Program {
  const d = draft();
  const lines = readFileSync(path.join(root, "tests/data/stigler-1945.csv"), "utf8")
    .trim()
    .split("\n")
    .slice(1);
  const foods = lines.map((line) => line.split(",").slice(-9).map(Number));
  const share = whole ? 1e-3 : 1;
  const columns = foods.map((_, k) => d.column(`food ${k}`, share, Infinity, whole));
  [3, 70, 0.8, 12, 5, 1.8, 2.7, 18, 75].forEach((least, n) => {
    d.row(
      row,
      columns.map((j, k): Entry => [j, foods[k]![n]! * share]),
      { lower: least },
    );
  });
  return d;
}

function problems(root: string, each: number): Problem[] {
  const list: Problem[] = Object.entries(NETLIB).map(([name, optimum]) => ({
    name,
    ...readMps(readFileSync(path.join(root, "tests/fixtures/netlib", `${name}.mps`), "utf8")),
    optimum,
  }));
  // By an independent solution of the same data; see tests/solver/published-programs.test.ts.
  list.push({ name: "stigler", program: diet(root, false), optimum: 0.1086622782 });
  list.push({ name: "stigler, whole tenths of a cent", program: diet(root, true) });
  for (const [name, make] of Object.entries({ knapsack, covering, fixedCharge, cutting, assignment }))
    for (let k = 1; k <= each; k++)
      list.push({ name: `${name} ${k}`, program: make(seeded(1000 * k + name.length)) });
  for (let k = 1; k <= Math.ceil(each / 4); k++) {
    list.push({ name: `purchase for 10 beds ${k}`, program: purchase(seeded(k), 10, 12, 2) });
    list.push({ name: `purchase for 40 beds ${k}`, program: purchase(seeded(k), 40, 15, 3) });
  }
  return list;
}

interface Verdict {
  readonly cost: number | null;
  readonly proven: boolean;
  readonly claimed: boolean;
}

/** Milliseconds that the processor has worked for this process: what others do at the same time does not count. */
function workedMs(): number {
  const { user, system } = process.cpuUsage();
  return (user + system) / 1000;
}

async function ours(program: Program, seconds: number): Promise<Verdict> {
  if (!program.columns.some(({ integer }) => integer)) {
    const answer = await solveProgram(program);
    if (answer.status === "optimal") return { cost: answer.check.cost, proven: true, claimed: false };
    return { cost: null, proven: answer.status === "infeasible", claimed: false };
  }
  const answer = await solveWhole(program, { seconds, clock: workedMs });
  if (answer.status === "nothing") return { cost: null, proven: false, claimed: false };
  if (answer.status === "infeasible") return { cost: null, proven: true, claimed: answer.claimed };
  return { cost: answer.cost, proven: answer.status === "optimal", claimed: answer.claimed };
}

const middle = (numbers: readonly number[]): number =>
  [...numbers].sort((a, b) => a - b)[numbers.length >> 1] ?? Number.NaN;

/** Solves all problems; throws where one is wrong. @param each how many of each textbook kind. */
export async function checkSuites(
  print: (line: string) => void,
  root: string,
  each = 40,
  seconds = 10,
): Promise<void> {
  const wrong: string[] = [];
  const unproven: string[] = [];
  const claimed: string[] = [];
  const ratios: { continuous: number[]; whole: number[] } = { continuous: [], whole: [] };
  const list = problems(root, each);
  await solveWithHighs({ columns: [], rows: [] });
  for (const { name, program, constant = 0, optimum } of list) {
    const begun = workedMs();
    const own = await ours(program, seconds);
    const between = workedMs();
    const theirs = await solveWithHighs(program, 3 * seconds);
    const ended = workedMs();
    const whole = program.columns.some(({ integer }) => integer);
    ratios[whole ? "whole" : "continuous"].push((between - begun) / (ended - between));
    if (own.claimed) claimed.push(name);
    if (!own.proven) {
      unproven.push(name);
      continue;
    }
    if (optimum === undefined && theirs.status === "stopped") continue;
    const said = theirs.status === "infeasible" || !theirs.x ? null : costOf(program, theirs.x) + constant;
    const expected = optimum === undefined ? said : optimum;
    const cost = own.cost === null ? null : own.cost + constant;
    const same =
      cost === null || expected === null
        ? cost === expected
        : Math.abs(cost - expected) <= 2e-7 * Math.max(1e-2, Math.abs(expected));
    if (!same) wrong.push(`${name}: ${cost}, expected ${expected}, by HiGHS ${said}`);
  }
  print(`problems: ${list.length}; unproven: ${unproven.length}; by HiGHS's word alone: ${claimed.length}`);
  print(
    `time beside HiGHS, in the middle: continuous ${middle(ratios.continuous).toFixed(2)}, whole numbers ${middle(ratios.whole).toFixed(2)}`,
  );
  for (const name of unproven) print(`unproven: ${name}`);
  for (const name of claimed) print(`claimed: ${name}`);
  for (const line of wrong) print(`wrong: ${line}`);
  print(`wrong: ${wrong.length}`);
  if (wrong.length > 0) throw new Error(`${wrong.length} of ${list.length} problems are wrong`);
}
