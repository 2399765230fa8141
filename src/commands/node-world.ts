/** The real world: Node's files and streams. The only module that touches them. */
import fs from "node:fs";
import { basename, dirname, join, relative } from "node:path";
import tty from "node:tty";
import { decodeText, LARGEST_INPUT, tooLarge } from "../files/text.ts";
import { BadInput, UnreadableInput } from "../problem.ts";
import { UsageError } from "./command.ts";
import { FileError, type Files, type OutputStream, type PendingFile, type World } from "./world.ts";

/**
 * The world that a process started from a shell lives in.
 * @param packageDir absolute; where `recipes/` and `package.json` are.
 */
export function nodeWorld(packageDir: string): World {
  return {
    files,
    cwd: process.cwd(),
    packageDir,
    stdout: outputStream(1, () => process.stdout.columns),
    stderr: outputStream(2, () => process.stderr.columns),
    stdin: {
      get isTTY() {
        return isTerminal(0);
      },
      read: () => readAll(0, "standard input"),
    },
    env: process.env,
  };
}

/** Whether a person sits at a descriptor. `node:tty` is asked about character devices only: it is slow to load. */
function isTerminal(fd: number): boolean {
  try {
    const stat = fs.fstatSync(fd);
    return stat.isCharacterDevice() && !isNullDevice(stat) && tty.isatty(fd);
  } catch {
    return false;
  }
}

/** The null device is a character device too, and programs are often run into it. */
function isNullDevice(stat: fs.Stats): boolean {
  return stat.rdev === fs.statSync("/dev/null", { throwIfNoEntry: false })?.rdev;
}

function outputStream(fd: number, columns: () => number | undefined): OutputStream {
  let terminal: boolean | undefined;
  const isTTY = () => {
    terminal ??= isTerminal(fd);
    return terminal;
  };
  return {
    get isTTY() {
      return isTTY();
    },
    get columns() {
      return isTTY() ? columns() : undefined;
    },
    // Written straight to the descriptor: whole and in order before the program ends, without the stream machinery.
    write: (text) => writeAll(fd, text),
  };
}

function writeAll(fd: number, text: string): void {
  const bytes = Buffer.from(text, "utf8");
  for (let written = 0; written < bytes.length; ) {
    written += whenReady(() => fs.writeSync(fd, bytes, written));
  }
}

/** What is read goes through here: nothing else reads meanwhile. */
const chunk = Buffer.allocUnsafe(65536);

/** Everything up to the end, as text; an input that does not end within reason is refused. */
function readAll(fd: number, name: string): string {
  const chunks: Buffer[] = [];
  let length = 0;
  for (;;) {
    const count = whenReady(() => {
      try {
        return fs.readSync(fd, chunk);
      } catch (error) {
        if (codeOf(error) === "EOF") return 0;
        throw error;
      }
    });
    if (count === 0) return decodeText(Buffer.concat(chunks), name);
    length += count;
    if (length > LARGEST_INPUT) throw new UnreadableInput(tooLarge(name));
    chunks.push(Buffer.from(chunk.subarray(0, count)));
  }
}

/** Repeats what a descriptor that never blocks refuses for the moment (a full or an empty pipe). */
function whenReady<T>(attempt: () => T): T {
  for (;;) {
    try {
      return attempt();
    } catch (error) {
      if (codeOf(error) !== "EAGAIN") throw error;
      pause(5);
    }
  }
}

function codeOf(error: unknown): string | undefined {
  return error instanceof Error && "code" in error ? String(error.code) : undefined;
}

const files: Files = {
  read(path) {
    let fd: number;
    try {
      fd = fs.openSync(path, "r");
    } catch {
      return null;
    }
    try {
      return readAll(fd, namedFromHere(path));
    } catch (error) {
      if (error instanceof UnreadableInput) throw error;
      return null;
    } finally {
      fs.closeSync(fd);
    }
  },
  list(folder) {
    try {
      return fs.readdirSync(folder).sort();
    } catch {
      return [];
    }
  },
  real(path) {
    try {
      return fs.realpathSync.native(path);
    } catch {
      return path;
    }
  },
  create: (path) => worded(path, () => begin(path)),
  update: (path, change) => worded(path, () => update(path, change)),
  makeNew: (texts) => heldOff(() => makeNew(texts)),
};

function makeNew(texts: ReadonlyMap<string, string>): void {
  const folders: string[] = [];
  const made: string[] = [];
  try {
    for (const [path, text] of texts) {
      const outermost = worded(path, () => fs.mkdirSync(dirname(path), { recursive: true }));
      if (outermost !== undefined) folders.unshift(...foldersBetween(dirname(path), outermost));
      worded(path, () => replace(path, text, undefined));
      made.push(path);
    }
  } catch (error) {
    for (const path of made) fs.rmSync(path, { force: true });
    // One that holds something else by now stays.
    for (const folder of folders) if (fs.readdirSync(folder).length === 0) fs.rmdirSync(folder);
    throw error;
  }
}

/** A folder and those above it up to `outermost`, innermost first. */
function foldersBetween(folder: string, outermost: string): string[] {
  return folder === outermost || dirname(folder) === folder
    ? [folder]
    : [folder, ...foldersBetween(dirname(folder), outermost)];
}

function namedFromHere(path: string): string {
  const near = relative(process.cwd(), path);
  return near === "" || near.startsWith("..") ? path : near;
}

function worded<T>(path: string, attempt: () => T): T {
  try {
    return attempt();
  } catch (error) {
    if (error instanceof FileError || error instanceof BadInput || error instanceof UsageError) throw error;
    const words: Readonly<Record<string, string>> = {
      ENOENT: `there is no folder ${dirname(path)}`,
      EEXIST: "there is a file of that name",
      ENOTDIR: `${dirname(path)} is not a folder`,
      EISDIR: "it is a folder; name a file",
      EACCES: "you may not write there",
      EPERM: "you may not write there",
      EROFS: "that disk cannot be written to",
      ENOSPC: "there is no room left on the disk",
      EDQUOT: "your quota on the disk is used up",
      EFBIG: "the file would be larger than is allowed here",
      ENAMETOOLONG: "the name is too long",
      ELOOP: "it is a link in a loop of links",
    };
    const code = codeOf(error) ?? "";
    throw new FileError(
      `${path}: ${words[code] ?? (error instanceof Error ? error.message : String(error))}`,
    );
  }
}

/**
 * Looks whether a path can be written; nothing is made before `commit`. So an interrupt ends a run at once and leaves
 * nothing behind; one that comes during the writing itself waits for it, which is short.
 */
function begin(path: string): PendingFile {
  const there = fs.statSync(path, { throwIfNoEntry: false });
  if (there?.isDirectory()) throw new FileError(`${path}: it is a folder; name a file`);
  // A device or a named pipe is written to, never replaced.
  if (there && !there.isFile()) return { commit: (text) => worded(path, () => fs.writeFileSync(path, text)) };
  if (there === undefined && basename(path) === "") throw new FileError(`${path}: name a file`);
  const target = there ? fs.realpathSync(path) : path;
  if (there) fs.accessSync(target, fs.constants.W_OK);
  // A folder that is none, or that nothing may be made in, is refused as writing would be.
  fs.readdirSync(dirname(target));
  fs.accessSync(dirname(target), fs.constants.W_OK);
  return {
    commit: (text) => worded(path, () => heldOff(() => replace(target, text, there))),
  };
}

const SIGNALS = ["SIGINT", "SIGTERM", "SIGHUP"] as const;
/** How many writings signals are held off for: those of one turn share their listeners. */
let writing = 0;

function release(): void {
  for (const signal of SIGNALS) process.removeListener(signal, again);
}

function again(signal: NodeJS.Signals): void {
  release();
  process.kill(process.pid, signal);
}

/** Does something short during which a signal does not end the process; it acts once the process waits for anything, or never where the run is over first. */
function heldOff(action: () => void): void {
  writing += 1;
  if (writing === 1) for (const signal of SIGNALS) process.on(signal, again);
  try {
    action();
  } finally {
    // Signals that came are told of once this turn is over.
    setImmediate(() => {
      writing -= 1;
      if (writing === 0) release();
    });
  }
}

/** Puts a new file in the place of an old one, with its rights and, where that is allowed, its owner. */
function replace(target: string, text: string, there: fs.Stats | undefined): void {
  const { fd, temporary } = openBeside(dirname(target));
  try {
    try {
      if (there) keepRights(fd, there);
      writeAll(fd, text);
      fs.fsyncSync(fd);
    } finally {
      fs.closeSync(fd);
    }
    fs.renameSync(temporary, target);
  } catch (error) {
    fs.rmSync(temporary, { force: true });
    throw error;
  }
}

/** Deletes what runs that were killed while they wrote left in a folder. */
function putAwayTemporaries(folder: string): void {
  for (const name of fs.readdirSync(folder)) {
    const pid = /^\.barrowmix-(\d+)-\d+\.tmp$/.exec(name)?.[1];
    if (pid !== undefined && !isRunning(Number(pid))) fs.rmSync(join(folder, name), { force: true });
  }
}

/** A new file in the folder, under a name that nothing else has: runs in two containers may have the same number. */
function openBeside(folder: string): { readonly fd: number; readonly temporary: string } {
  putAwayTemporaries(folder);
  for (let attempt = 0; ; attempt++) {
    const temporary = join(folder, `.barrowmix-${process.pid}-${attempt}.tmp`);
    try {
      return { fd: fs.openSync(temporary, "wx", 0o666), temporary };
    } catch (error) {
      if (codeOf(error) !== "EEXIST" || attempt > 99) throw error;
    }
  }
}

function keepRights(fd: number, { mode, uid, gid }: fs.Stats): void {
  try {
    fs.fchownSync(fd, uid, gid);
  } catch {
    // Only the administrator may give files away.
  }
  fs.fchmodSync(fd, mode & 0o7777);
}

const LONGEST_WAIT_MS = 10_000;

/**
 * Reads a file, changes its text and writes it, while no other run of the program does the same: a file beside it, made
 * by whoever is first and gone afterwards, holds the others off. It is there for the writing alone, so a run that is
 * killed while it works leaves none; what one killed in the writing left is put away by the next.
 */
function update(path: string, change: (text: string | null) => string | null): void {
  const target = fs.statSync(path, { throwIfNoEntry: false }) ? fs.realpathSync(path) : path;
  const lock = join(dirname(target), `.barrowmix-${basename(target)}.lock`);
  for (;;) {
    const before = files.read(path);
    const after = change(before);
    if (after === null || after === before) return;
    // Who waits for another run can be interrupted; who has the lock gives it back first.
    waitFor(lock);
    let done = false;
    heldOff(() => {
      if (!makeLock(lock)) return;
      try {
        // Another run may have written meanwhile, and an editor knows nothing of the lock.
        if (files.read(path) !== before) return;
        begin(path).commit(after);
        done = true;
      } finally {
        fs.rmSync(lock, { force: true });
      }
    });
    if (done) return;
  }
}

function waitFor(lock: string): void {
  for (let waited = 0; fs.existsSync(lock); waited += 20) {
    if (isLeftBehind(lock)) fs.rmSync(lock, { force: true });
    else if (waited >= LONGEST_WAIT_MS)
      throw new FileError(`${lock}: another run holds this file; delete it if none is running`);
    else pause(20);
  }
}

/** Makes the file that holds others off, with the number of this run in it; false where it is there already. */
function makeLock(lock: string): boolean {
  try {
    fs.writeFileSync(lock, String(process.pid), { flag: "wx" });
    return true;
  } catch (error) {
    if (codeOf(error) === "EEXIST") return false;
    // It may have been made, and then there was no room for the number.
    if (holderOf(lock) === undefined) fs.rmSync(lock, { force: true });
    throw error;
  }
}

/** The number of the run that holds a file; undefined where it has not yet said so, or is gone. */
function holderOf(lock: string): number | undefined {
  try {
    return Number(fs.readFileSync(lock, "utf8")) || undefined;
  } catch {
    return undefined;
  }
}

/** Whether the run that made a lock is gone; one that has not yet said which run it is of gets a second. */
function isLeftBehind(lock: string): boolean {
  const pid = holderOf(lock);
  if (pid !== undefined) return !isRunning(pid);
  const there = fs.statSync(lock, { throwIfNoEntry: false });
  return there !== undefined && Date.now() - there.mtimeMs > 1000;
}

function isRunning(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    return codeOf(error) !== "ESRCH";
  }
}

function pause(milliseconds: number): void {
  Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, milliseconds);
}
