import { expect, it } from "vitest";
import { checkFuzz } from "./check/fuzz.ts";
import { seeds } from "./helpers/seeds.ts";

const INPUTS = seeds(15, 300);

it("ends mutated inputs with an answer or with words", async () => {
  const lines: string[] = [];
  expect(await checkFuzz((line) => lines.push(line), INPUTS, 2), lines.join("\n")).toBe(0);
}, 120_000);
