/**
 * What a text may not bring along when it is printed: names come from files, and a name must neither steer a terminal
 * nor forge a line of a list.
 */

/** Control characters (line breaks, tabs, escapes, C1) and the line and paragraph separators of Unicode. */
const BREAKS = /[\p{Cc}\u2028\u2029]+/gu;
/**
 * Marks that turn the order of letters on the screen (Unicode Standard Annex 9, section 2), and signs that are not
 * seen at all: soft hyphen, zero-width space, word joiner and invisible operators, byte order mark, tags. The joiners
 * U+200C and U+200D stay; Persian, Indic scripts and emoji need them.
 */
const UNSEEN = /[\u00ad\u061c\u200b\u200e\u200f\u202a-\u202e\u2060-\u2069\ufeff\u{e0000}-\u{e007f}]/gu;
/** Half of a pair of UTF-16 units; it has no encoding in UTF-8. */
const LONE_HALF = /[\ud800-\udbff](?![\udc00-\udfff])|(?<![\ud800-\udbff])[\udc00-\udfff]/g;

/** Text as one line: control characters become a space, marks of direction and unseen signs go. */
export function plainText(text: string): string {
  // Nearly every text is plain ASCII, and is told so at once.
  if (/^[\x20-\x7e]*$/.test(text)) return text;
  return text.replace(LONE_HALF, "\ufffd").replace(BREAKS, " ").replace(UNSEEN, "");
}

/** Text of several lines, each of them plain; tabs stay as a space. */
export function plainLines(text: string): string {
  return text.split("\n").map(plainText).join("\n");
}
