/** The table of formats: each turns what a command found out into text. Renderers load only when asked for. */
import type { Extent } from "../report/report.ts";
import type { CommandOutput, Format } from "./command.ts";

interface RenderOptions {
  readonly width: number;
  readonly colour: boolean;
  readonly extent: Extent;
  /** Charts in ASCII alone. */
  readonly ascii: boolean;
}

type Renderer = (output: CommandOutput, options: RenderOptions) => string | Promise<string>;

/** The same JSON with marks that a terminal would act upon (C1 controls, marks of direction) written as escapes. */
function escaped(json: string): string {
  return json.replace(
    /[\u007f-\u009f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069]/g,
    (sign) => `\\u${sign.charCodeAt(0).toString(16).padStart(4, "0")}`,
  );
}

/** A value as JSON with two spaces of indent, ending with a line break. */
export function renderJson(value: unknown): string {
  return `${escaped(JSON.stringify(value, null, 2))}\n`;
}

export const RENDERERS: Readonly<Record<Format, Renderer>> = {
  table: async (output, options) => {
    const { extent } = options;
    const { renderTerminal } = await import("../render/terminal.ts");
    return renderTerminal(await output.report(extent), options);
  },
  json: (output) => renderJson(output.json),
  csv: async (output, { extent }) => {
    const { renderCsv } = await import("../render/csv.ts");
    return renderCsv(await output.report(extent));
  },
  md: async (output, { extent }) => {
    const { renderMarkdown } = await import("../render/markdown.ts");
    return renderMarkdown(await output.report(extent));
  },
  html: async (output, { extent }) => {
    if (output.html) return output.html();
    const { renderHtml } = await import("../render/html.ts");
    return renderHtml(await output.report(extent));
  },
  ndjson: (output) =>
    (output.lineTexts ?? (output.lines ?? [output.json]).map((line) => JSON.stringify(line)))
      .map((text) => `${escaped(text)}\n`)
      .join(""),
  list: async (output, options) => RENDERERS.text(output, options),
  text: async (output, options) =>
    output.text ? await output.text() : RENDERERS.table(output, { ...options, colour: false }),
};

/** Formats made for people, beside which faults are shown on stderr. */
export const HUMAN_FORMATS: ReadonlySet<Format> = new Set(["table", "md", "html", "text", "list"]);
/** Formats that have no place for remarks. */
export const BARE_FORMATS: ReadonlySet<Format> = new Set(["csv", "ndjson", "text", "list"]);
