/** Text made safe for HTML. */
import { plainText } from "../plain-text.ts";

/** Text as it may be in an element or in a quoted attribute, on one line. */
export function escapeHtml(text: string): string {
  return plainText(text)
    .replaceAll("&", "&amp;")
    .replaceAll("<", "&lt;")
    .replaceAll(">", "&gt;")
    .replaceAll('"', "&quot;")
    .replaceAll("'", "&#39;");
}
