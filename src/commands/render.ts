/** The table of formats: each turns what a command found out into text. Renderers load only when asked for. */
import type { CommandOutput, Format } from "./command.ts";

export interface RenderOptions {
  readonly width: number;
  readonly colour: boolean;
}

type Renderer = (output: CommandOutput, options: RenderOptions) => string | Promise<string>;

/** A value as JSON with two spaces of indent, ending with a line break. */
export function renderJson(value: unknown): string {
  return `${JSON.stringify(value, null, 2)}\n`;
}

export const RENDERERS: Readonly<Record<Format, Renderer>> = {
  table: async (output, options) => {
    const { renderTerminal } = await import("../render/terminal.ts");
    return renderTerminal(await output.report(), options);
  },
  json: (output) => renderJson(output.json),
  csv: async (output) => {
    const { renderCsv } = await import("../render/csv.ts");
    return renderCsv(await output.report());
  },
  md: async (output) => {
    const { renderMarkdown } = await import("../render/markdown.ts");
    return renderMarkdown(await output.report());
  },
  html: async (output) => {
    if (output.html) return output.html();
    const { renderHtml } = await import("../render/html.ts");
    return renderHtml(await output.report());
  },
  ndjson: (output) => (output.lines ?? [output.json]).map((line) => `${JSON.stringify(line)}\n`).join(""),
  list: async (output, options) => RENDERERS.text(output, options),
  text: async (output, options) =>
    output.text ? await output.text() : RENDERERS.table(output, { ...options, colour: false }),
};

/** Formats made for people, beside which faults are shown on stderr. */
export const HUMAN_FORMATS: ReadonlySet<Format> = new Set(["table", "md", "html", "text", "list"]);
/** Formats that have no place for remarks. */
export const BARE_FORMATS: ReadonlySet<Format> = new Set(["csv", "ndjson", "text", "list"]);
