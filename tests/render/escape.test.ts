/** Commands in texts: code for a reader, and never a way for foreign text to become markup. */
import { describe, expect, it } from "vitest";
import { textHtml } from "../../src/render/escape.ts";
import { renderMarkdown } from "../../src/render/markdown.ts";
import { paragraph } from "../../src/report/report.ts";

const markdown = (text: string) =>
  renderMarkdown({ title: "T", summary: [paragraph(text)], sections: [] }).split("\n")[2];

describe("commands in a text", () => {
  it("are code", () => {
    const text = "Meal_fine is dear (cheaper: `--price meal=+10%`, then `barrowmix shop plan.yaml`).";
    expect(textHtml(text)).toBe(
      'Meal_fine is dear (cheaper: <code><span class="whole">--price meal=+10%</span></code>, then <code>barrowmix shop plan.yaml</code>).',
    );
    expect(markdown(text)).toBe(
      "Meal\\_fine is dear (cheaper: `--price meal=+10%`, then `barrowmix shop plan.yaml`).",
    );
  });

  it.each(["`--<b>x</b>`", "`barrowmix [a](b)`", "`|`", "`*x*`", "`--a", "`` `--a` \\`"])(
    "leave %s as it was written",
    (text) => {
      expect(textHtml(text)).not.toMatch(/<(?!\/?code>)/);
      if (!text.includes("`--a`")) {
        expect(textHtml(text)).not.toContain("<code>");
        expect(markdown(text)).not.toMatch(/(?<!\\)[`*[|<]/);
      }
    },
  );
});
