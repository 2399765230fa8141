import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { plainLines, plainText } from "../src/plain-text.ts";

/** Bidirectional formatting characters, from Unicode Standard Annex 9, table 1. */
const BIDI = [0x061c, 0x200e, 0x200f, 0x202a, 0x202b, 0x202c, 0x202d, 0x202e, 0x2066, 0x2067, 0x2068, 0x2069];

describe("plain text", () => {
  it("turns line breaks, tabs and escapes into spaces", () => {
    expect(plainText("Meal\n[ ] 9 x 50 lb Gold, $0.00")).toBe("Meal [ ] 9 x 50 lb Gold, $0.00");
    expect(plainText("a\tb\r\nc\u2028d\u0085e")).toBe("a b c d e");
    expect(plainText("\u001b[31mred\u009b0m")).toBe(" [31mred 0m");
  });

  it("takes marks of direction and unseen signs out", () => {
    for (const mark of BIDI) expect(plainText(`lb${String.fromCodePoint(mark)}5`)).toBe("lb5");
    expect(plainText("soft\u00adly, zero\u200bwidth, \ufeffmark, \u{e0041}tag")).toBe(
      "softly, zerowidth, mark, tag",
    );
  });

  it("leaves words in any script alone", () => {
    const texts = ["Tourteau de ricin", "Knochenmehl, gedämpft", "骨粉", "می‌خواهم", "סיד חקלאי", "👩‍🌾 mix"];
    for (const text of texts) expect(plainText(text)).toBe(text);
  });

  it("is one line without controls, whatever comes in, and once is enough", () => {
    fc.assert(
      fc.property(fc.string({ unit: "binary" }), (text) => {
        const plain = plainText(text);
        expect(plain).not.toMatch(/[\p{Cc}\p{Zl}\p{Zp}\p{Bidi_Control}]/u);
        expect(Buffer.from(plain, "utf8").toString("utf8")).toBe(plain);
        expect(plainText(plain)).toBe(plain);
      }),
      { seed: 20261125 },
    );
  });

  it("keeps the lines of a text of several", () => {
    expect(plainLines("one\ttwo\nthree\u202e")).toBe("one two\nthree");
  });
});
