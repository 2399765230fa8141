/** The table of formats: each turns what a command found out into text. Renderers load only when asked for. */
import type { Extent, Report } from "../report/report.ts";
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

/** Keys of amounts of money, which are sums: 94.254, where binary fractions add up to 94.25399999999999. */
const MONEY = new Set([
  "total",
  "baseTotal",
  "difference",
  "goods",
  "delivery",
  "cost",
  "byWeight",
  "perPlant",
  "leftWorth",
]);
const DIGITS = 12;

function jsonText(value: unknown, indent?: number): string {
  const rounded = (key: string, one: unknown): unknown =>
    typeof one === "number" && MONEY.has(key) ? Number(one.toPrecision(DIGITS)) : one;
  return JSON.stringify(value, rounded, indent);
}

/** A value as JSON with two spaces of indent, ending with a line break. */
export function renderJson(value: unknown): string {
  return `${escaped(jsonText(value, 2))}\n`;
}

/** A value as one line of JSON. */
export function renderLine(value: unknown): string {
  return `${escaped(jsonText(value))}\n`;
}

function ofReport(load: () => Promise<(report: Report, options: RenderOptions) => string>): Renderer {
  return async (output, options) => {
    const render = await load();
    return render(await output.report(options.extent), options);
  };
}

const html = ofReport(async () => (await import("../render/html.ts")).renderHtml);

export const RENDERERS: Readonly<Record<Format, Renderer>> = {
  table: ofReport(async () => (await import("../render/terminal.ts")).renderTerminal),
  json: (output) => renderJson(output.json),
  csv: ofReport(async () => (await import("../render/csv.ts")).renderCsv),
  md: ofReport(async () => (await import("../render/markdown.ts")).renderMarkdown),
  html: (output, options) => (output.html ? output.html() : html(output, options)),
  ndjson: (output) => (output.lines ?? [output.json]).map(renderLine).join(""),
  list: (output, options) => RENDERERS.text(output, options),
  text: (output, options) =>
    output.text ? output.text() : RENDERERS.table(output, { ...options, colour: false }),
};

/** Formats made for people, beside which faults are shown on stderr. */
export const HUMAN_FORMATS: ReadonlySet<Format> = new Set(["table", "md", "html", "text", "list"]);
/** Formats that have no place for remarks. */
export const BARE_FORMATS: ReadonlySet<Format> = new Set(["csv", "ndjson", "text", "list"]);
