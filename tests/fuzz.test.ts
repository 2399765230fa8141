import { expect, it } from "vitest";
import { checkFuzz } from "./check/fuzz.ts";

it("ends 300 mutated inputs with an answer or with words", async () => {
  const lines: string[] = [];
  expect(await checkFuzz((line) => lines.push(line), 300, 2), lines.join("\n")).toBe(0);
}, 120_000);
