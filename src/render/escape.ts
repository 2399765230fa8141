/** Text made safe for HTML, and the commands in it. */
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

/** What the program tells a reader to type, `--sure 90%` or `barrowmix now`: of letters that are no markup anywhere. */
const COMMAND = /`((?:--|barrowmix )[\w %=.,:+/-]+)`/;

/** A text in turn as it reads and as a command in it, each made into markup. */
export function withCommands(
  text: string,
  words: (part: string) => string,
  command: (part: string) => string,
): string {
  return text
    .split(COMMAND)
    .map((part, i) => (i % 2 === 1 ? command(part) : words(part)))
    .join("");
}

/** Text for an element, as `escapeHtml`, in which commands are set apart. */
export function textHtml(text: string): string {
  const flags = (command: string) =>
    escapeHtml(command).replace(/--[\w-]+ [^ -][^ ]*/g, (flag) => `<span class="whole">${flag}</span>`);
  return withCommands(text, escapeHtml, (command) => `<code>${flags(command)}</code>`);
}
