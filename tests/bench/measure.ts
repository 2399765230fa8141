/** What every measure shares: medians, child processes timed alternately, and how a figure is told. */
import { spawn } from "node:child_process";
import { readFileSync } from "node:fs";

/** One measured figure against its goal. */
export interface Figure {
  readonly name: string;
  readonly value: number;
  readonly unit: string;
  /** Absent: told for information. */
  readonly goal?: { readonly at: "most" | "least"; readonly value: number };
  readonly detail: string;
}

export interface Benchmark {
  readonly name: string;
  /** Throws where an answer is wrong: a wrong answer has no speed. */
  run(root: string): Promise<readonly Figure[]>;
}

export function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2;
}

/** Processor time used so far, ms: other work of the machine does not count. */
export function spent(): number {
  const { user, system } = process.cpuUsage();
  return (user + system) / 1000;
}

export function check(holds: boolean, what: string): void {
  if (!holds) throw new Error(`wrong answer: ${what}`);
}

export interface ProcessRun {
  readonly ms: number;
  /** Processor time of the child, ms in steps of 10; null where the system does not tell. */
  readonly cpuMs: number | null;
  /** Peak resident memory, kB; null where the system does not tell. */
  readonly peakKb: number | null;
  readonly stdout: string;
  readonly code: number | null;
}

/** Processor time of the children that have ended, ms (Linux, in hundredths of a second); null elsewhere. */
function spentByChildren(): number | null {
  try {
    const fields = readFileSync("/proc/self/stat", "utf8")
      .replace(/^.*\) /s, "")
      .split(" ");
    return 10 * (Number(fields[13]) + Number(fields[14]));
  } catch {
    return null;
  }
}

/** Runs Node once with the given arguments, from start to exit; watching the memory costs the run some time. */
export function runNode(args: readonly string[], cwd: string, memory = false): Promise<ProcessRun> {
  return new Promise((resolve, reject) => {
    const begun = performance.now();
    const before = spentByChildren();
    let peakKb: number | null = null;
    const child = spawn(process.execPath, args, { cwd, stdio: ["ignore", "pipe", "inherit"] });
    const chunks: Buffer[] = [];
    child.stdout.on("data", (chunk: Buffer) => chunks.push(chunk));
    const look = () => {
      try {
        const status = readFileSync(`/proc/${child.pid}/status`, "utf8");
        const high = /VmHWM:\s+(\d+) kB/.exec(status);
        if (high) peakKb = Math.max(peakKb ?? 0, Number(high[1]));
      } catch {
        // Gone, or a system without /proc.
      }
    };
    const watch = memory ? setInterval(look, 2) : undefined;
    child.on("error", reject);
    child.on("close", (code) => {
      clearInterval(watch);
      const stdout = Buffer.concat(chunks).toString("utf8");
      const ms = performance.now() - begun;
      const after = spentByChildren();
      const cpuMs = before !== null && after !== null ? after - before : null;
      resolve({ ms, cpuMs, peakKb, stdout, code });
    });
  });
}

/** A command's runs: median of the wall, mean of the processor time, median of the peaks. */
export interface Timed {
  readonly ms: number;
  readonly cpuMs: number | null;
  readonly peakKb: number | null;
}

/** Commands run in turn, so that whatever else the machine does falls on all alike. */
export async function alternate(
  commands: readonly (readonly string[])[],
  rounds: number,
  cwd: string,
): Promise<Timed[]> {
  const runs: ProcessRun[][] = commands.map(() => []);
  const watched: ProcessRun[][] = commands.map(() => []);
  for (let round = 0; round < rounds; round++)
    for (const [k, args] of commands.entries()) {
      runs[k]!.push(await runNode(args, cwd));
      if (round < 5) watched[k]!.push(await runNode(args, cwd, true));
    }
  return runs.map((list, k) => {
    const peaks = watched[k]!.flatMap((run) => (run.peakKb === null ? [] : [run.peakKb]));
    const spents = list.flatMap((run) => (run.cpuMs === null ? [] : [run.cpuMs]));
    return {
      ms: median(list.map((run) => run.ms)),
      cpuMs: spents.length > 0 ? spents.reduce((sum, ms) => sum + ms, 0) / spents.length : null,
      peakKb: peaks.length > 0 ? median(peaks) : null,
    };
  });
}
