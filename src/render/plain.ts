/** A report whose every text is plain: the renderers start from it (HTML escapes text by text instead), so that no name can forge a line of its output. */
import { plainText } from "../plain-text.ts";
import type { Report } from "../report/report.ts";

/** The same report with control characters, marks of direction and unseen signs taken out of its texts. */
export function plainReport(report: Report): Report {
  return plain(report) as Report;
}

/** A report holds nothing but lists, fields, numbers and texts; its own words, such as `table`, are plain already. */
function plain(value: unknown): unknown {
  if (typeof value === "string") return plainText(value);
  if (Array.isArray(value)) return value.map(plain);
  if (typeof value !== "object" || value === null) return value;
  return Object.fromEntries(Object.entries(value).map(([key, part]) => [key, plain(part)]));
}
