/** A farm on the screen: a line for each bed, and what fewer or more mixes would cost. */
import type { MixCount } from "../results/solution.ts";
import { listed } from "../words/numbers.ts";
import { dateWords } from "../words/own-measures.ts";
import { bedLabel, type View } from "./answer-view.ts";
import { alikeRounds, type GivenRound, roundsGiven } from "./give-sections.ts";
import { paragraph, plain, type Section, section, table, words } from "./report.ts";
import { TOLERANCE } from "./writer.ts";

/** More beds than this are put together by what they get; where that leaves more lines, they are left to `--all`. */
const MOST_BEDS = 12;
const MOST_LINES = 8;

export const isLarge = ({ beds }: View): boolean => beds.length > MOST_BEDS;

/** What beds get each time, as it is said. */
interface BedRow extends GivenRound {
  readonly bed: string;
  readonly days: string;
}

/** Beds that get the same for each plant or stretch of ground, one line for all of them, most beds first. */
function together(rows: readonly BedRow[]): BedRow[] {
  const alike = new Map<string, BedRow[]>();
  for (const row of rows) {
    const key = [doseWords(row), row.of, row.days].join();
    alike.set(key, [...(alike.get(key) ?? []), row]);
  }
  return [...alike.values()]
    .sort((a, b) => b.length - a.length)
    .map(([first, ...others]) => ({
      ...first!,
      bed: others.length === 0 ? first!.bed : `${first!.bed} and ${others.length} more`,
      take: others.length === 0 ? first!.take : "what it asks",
    }));
}

/** `130 g a plant`, all by weight so that beds compare; null where there is nothing to divide by. */
function doseWords({ kind, portion: { g } }: GivenRound): string | null {
  if (g === null) return null;
  return `${kind.weigh(g)} ${kind.each.replace(/^Each /, "a ")}`.replace(" a 100", "/100");
}

/** A line for each bed, or for those of its rounds that give the same; of very many beds one for those alike. */
export function bedSections(view: View): Section[] {
  const { beds } = view;
  const title = "Give";
  const all = beds.flatMap((one) =>
    alikeRounds(roundsGiven(one, view)).map((rounds, k) => ({
      ...rounds[0],
      bed: k === 0 || isLarge(view) ? bedLabel(one.bed) : "",
      days: rounds
        .map(({ round }) => dateWords(round.day, one.plan.planted) ?? `day ${round.day}`)
        .join(", "),
    })),
  );
  const rows = isLarge(view) ? together(all) : all;
  if (isLarge(view) && rows.length > MOST_LINES) return [];
  return section(
    title,
    table(rows, [
      plain(words("Bed", "bed", (r) => r.bed)),
      words("Each time", "each", doseWords),
      words("Take", "take", ({ take, of }) => `${take} of ${of}`),
      words("On", "days", (r) => r.days),
    ]),
    paragraph(
      rows.some(({ alone }) => alone)
        ? "A material under Take goes on straight from its bag, beside the mix."
        : "",
    ),
  );
}

const COUNTS = ["no mix", "one", "two", "three", "four", "five", "six"];

function countWords({ mixes }: MixCount): string {
  return mixes === null ? "one for each bed" : (COUNTS[mixes] ?? String(mixes));
}

/** `one $630.00, two $565.00, one for each bed $518.00`, and what is proven of that. */
export function ladderSections({ solution, money }: View): Section[] {
  const { byMixes = [] } = solution;
  if (byMixes.length < 2) return [];
  const said = byMixes.map(
    (one) => `${countWords(one)} ${one.total === null ? "cannot feed all" : money(one.total)}`,
  );
  const open = byMixes.filter(({ gap }) => gap !== null && gap > TOLERANCE);
  const [first] = open;
  const isOneBound = open.length === byMixes.length && open.every(({ bound }) => bound === first!.bound);
  const proof =
    open.length === 0
      ? "Each of these is proven."
      : isOneBound
        ? `Found by trying; none costs below ${money(first!.bound!)}.`
        : `Not proven: ${listed(open.map((one) => `${countWords(one)} could cost as little as ${money(one.bound!)}`))}.`;
  const { mostMixes } = solution.inputs.sharing ?? {};
  const asked = mostMixes === undefined ? "" : ` (you asked for ${COUNTS[mostMixes] ?? mostMixes} at most)`;
  return section(
    `Fewer or more mixes${asked}`,
    paragraph(`${said.join(", ")}. ${proof}`.replace(/^./, (letter) => letter.toUpperCase())),
  );
}
