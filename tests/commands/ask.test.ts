/** Questions on a terminal: what is taken is what the screen says was taken. */
import { PassThrough } from "node:stream";
import { describe, expect, it } from "vitest";
import { terminalAsker } from "../../src/commands/ask.ts";

const CROPS = ["beet", "pepper", "tomato"].map((value) => ({ value, name: value.toUpperCase() }));

async function typed(...chunks: readonly string[]): Promise<{ taken: string; shown: string }> {
  const input = new PassThrough();
  const output = new PassThrough();
  let shown = "";
  output.on("data", (chunk) => {
    shown += String(chunk);
  });
  const asker = await terminalAsker({ input, output });
  const answer = asker.one("Which crop?", CROPS);
  for (const chunk of chunks) {
    await new Promise((done) => setImmediate(done));
    input.write(chunk);
  }
  return { taken: await answer, shown };
}

describe("a list to choose from", () => {
  it("takes what is typed, letter by letter and then the return key", async () => {
    expect((await typed("t", "o", "\r")).taken).toBe("tomato");
  });

  it("takes what is pasted or typed ahead with its return key", async () => {
    const { taken, shown } = await typed("tomato\r");
    expect(taken).toBe("tomato");
    expect(shown).toContain("TOMATO");
  });
});
