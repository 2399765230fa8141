/** Bytes of a file or a stream to text: UTF-8 only, and no more than a person could have written. */
import { type Problem, thousands, UnreadableInput } from "../problem.ts";
import type { ProblemCode } from "./codes.ts";

/** Bytes of one input; a year's offers of a hundred suppliers are far below it, an endless stream is above. */
export const LARGEST_INPUT = 5_000_000;

const decoder = new TextDecoder("utf-8", { ignoreBOM: true });

/**
 * The text of an input.
 * @param file the name to show in places.
 * @throws UnreadableInput where the bytes are not UTF-8, with the place of the first wrong one, or are too many.
 */
export function decodeText(bytes: Uint8Array, file: string): string {
  if (bytes.length > LARGEST_INPUT) throw new UnreadableInput(tooLarge(file));
  const text = decoder.decode(bytes);
  // Wrong bytes become this sign, which a text may also hold by right.
  if (!text.includes("\ufffd")) return text;
  const wrong = new TextEncoder().encode(text).findIndex((byte, i) => byte !== bytes[i]);
  if (wrong < 0) return text;
  // As a stream: what has been read of the wrong character is kept back.
  const good = new TextDecoder("utf-8", { ignoreBOM: true }).decode(bytes.subarray(0, wrong), {
    stream: true,
  });
  const lineStart = good.lastIndexOf("\n") + 1;
  const lineEnd = text.indexOf("\n", lineStart);
  const sixteen = (bytes[0] === 0xff && bytes[1] === 0xfe) || (bytes[0] === 0xfe && bytes[1] === 0xff);
  throw new UnreadableInput({
    code: "file-encoding" satisfies ProblemCode,
    message: sixteen ? "this text is UTF-16, not UTF-8" : "a byte here is not UTF-8",
    hint: "save the file as UTF-8 in your editor (`Save as`, encoding UTF-8)",
    place: { file, line: good.split("\n").length, column: good.length - lineStart + 1 },
    excerpt: text.slice(lineStart, lineEnd < 0 ? undefined : lineEnd).replace(/\r$/, ""),
  });
}

/** The problem of an input that does not end within reason. */
export function tooLarge(file: string): Problem {
  return {
    code: "file-size" satisfies ProblemCode,
    about: file,
    message: `this input has more than ${thousands(LARGEST_INPUT)} bytes, which is all that is read`,
    hint: "divide it, or look whether the right file was named",
  };
}
