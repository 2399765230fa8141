/** What a fault says, made from its fields; how problems are sorted and shown. */
import { describe, expect, it } from "vitest";
import {
  faultText,
  formatProblems,
  guess,
  nearest,
  problemOf,
  sentence,
  sortProblems,
} from "../src/problem.ts";

describe("the sentence of a fault", () => {
  it("is about what was written, where something was", () => {
    expect(problemOf({ code: "x", given: "soon", wrong: "is not a date" }).message).toBe(
      "`soon` is not a date",
    );
    expect(problemOf({ code: "x", wrong: "nothing is here" }).message).toBe("nothing is here");
  });

  it("says what is needed as the remedy, or before a better one", () => {
    const fault = { code: "x", given: "5 lb", wrong: "is a weight", expected: "a volume" };
    expect(problemOf(fault)).toEqual({
      code: "x",
      message: "`5 lb` is a weight",
      hint: "a volume is needed",
    });
    expect(problemOf({ ...fault, hint: "for instance `6 cu ft`" })).toEqual({
      code: "x",
      message: "`5 lb` is a weight; a volume is needed here",
      hint: "for instance `6 cu ft`",
    });
  });

  it("asks after the nearest name before anything else", () => {
    const fault = { code: "x", wrong: "no such unit", hint: "there are lb and kg" };
    expect(faultText({ ...fault, near: "lb" })).toBe("no such unit; did you mean `lb`?");
    expect(faultText({ ...fault, near: undefined })).toBe("no such unit; there are lb and kg");
    expect(faultText({ code: "x", wrong: "it is empty" })).toBe("it is empty");
  });

  it("names what it is about", () => {
    expect(sentence(problemOf({ code: "x", given: 3, wrong: "is odd" }, { about: "--plants" }))).toBe(
      "--plants: `3` is odd",
    );
  });
});

describe("a guess", () => {
  it("is the nearest name within a third of the letters", () => {
    expect(nearest("feathr-meal", ["bone-meal", "feather-meal"])).toBe("feather-meal");
    expect(nearest("NITROGEN", ["nitrogen"])).toBe("nitrogen");
    expect(nearest("xyz", ["bone-meal"])).toBeUndefined();
    expect(guess("bonemeal", ["bone-meal"], "write it")).toBe("did you mean `bone-meal`?");
    expect(guess("zzz", ["bone-meal"], "write it")).toBe("write it");
  });
});

describe("problems", () => {
  const at = (file: string, line: number, column = 1) => ({
    code: `${file}${line}`,
    message: "wrong",
    place: { file, line, column },
    excerpt: "a\tb: c",
  });

  it("are in reading order, those without a place first", () => {
    const bare = { code: "bare", message: "wrong" };
    expect(sortProblems([at("b", 9), at("a", 2), at("b", 1), bare]).map(({ code }) => code)).toEqual([
      "bare",
      "b1",
      "b9",
      "a2",
    ]);
  });

  it("are shown with their line and a caret under the sign, tabs kept", () => {
    expect(formatProblems([{ ...at("a", 12, 3), hint: "mend it" }])).toBe(
      "a:12:3: wrong [a12]\n  12 | a\tb: c\n     |  \t^\n  mend it\n",
    );
  });

  it("are counted beyond the first forty", () => {
    const many = Array.from({ length: 1045 }, (_, i) => at("a", i + 1));
    expect(formatProblems(many).split("\n").at(-2)).toBe("... and 1,005 more faults");
    expect(formatProblems([])).toBe("");
  });

  it("says a long remedy once, and a short one each time", () => {
    const twice = (hint: string) =>
      formatProblems([
        { ...at("a", 1, 1), hint },
        { ...at("a", 2, 1), hint },
      ]).split(hint).length - 1;
    expect(twice("mend it")).toBe(2);
    expect(twice(`keys accepted here: ${"key, ".repeat(20)}`)).toBe(1);
  });
});
