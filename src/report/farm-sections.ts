/** A farm on the screen: a line for each bed, and what fewer or more mixes would cost. */
import type { MixCount } from "../results/solution.ts";
import { counted, listed } from "../words/numbers.ts";
import { dateWords } from "../words/own-measures.ts";
import { bedLabel, type View } from "./answer-view.ts";
import { fedIn, takenIn, vesselWords } from "./give-sections.ts";
import { bullets, paragraph, type Section, section, table, words } from "./report.ts";
import { TOLERANCE } from "./writer.ts";

/** Beds in a table without `--all`. */
const MOST_BEDS = 12;

/** Whether the beds of an answer share mixes. */
export const isFarm = ({ solution }: View): boolean => solution.inputs.sharing !== undefined;

/** A line for each bed: its mix, what each round takes, and what a plant or a stretch of ground gets. */
export function bedSections(view: View): Section[] {
  const rows = view.beds.flatMap((one) => {
    const { bed, plan } = one;
    const fed = bed.rounds.find(({ kg }) => kg > 0);
    if (fed === undefined) return [];
    const kind = fedIn(plan);
    const taken = takenIn(one, view).filter((text) => text !== null);
    const same = taken.every((text) => text === taken[0]);
    const each = vesselWords(kind.portion(fed), plan, kind.weigh);
    const dose = `${kind.each.replace(/^Each /, "")}: ${each ?? ""}`;
    const days = bed.rounds
      .filter(({ kg }) => kg > 0)
      .map(({ day }) => dateWords(day, plan.planted) ?? `day ${day}`);
    const take = same ? (taken[0] ?? "") : listed(taken);
    return [{ bed: bedLabel(bed), mix: fed.mix, take, dose, days: days.join(", ") }];
  });
  return section(
    "Give, each round",
    table(rows.slice(0, view.solution.beds.length > MOST_BEDS ? MOST_BEDS : undefined), [
      words("Bed", "bed", (r) => r.bed),
      words("Mix", "mix", (r) => r.mix),
      words("Take", "take", (r) => r.take),
      words("Each", "each", (r) => r.dose),
      words("On", "days", (r) => r.days),
    ]),
    paragraph(
      rows.length > MOST_BEDS
        ? `And ${counted(rows.length - MOST_BEDS, "bed")} more, with --all or on the card.`
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
  return section(
    "Fewer or more mixes",
    paragraph(
      `${said.join(", ")}.`.replace(/^./, (letter) => letter.toUpperCase()),
      "strong",
    ),
    bullets([
      open.length === 0
        ? "Each of these is proven."
        : `Proven, but for ${listed(open.map((one) => `${countWords(one)} (at least ${money(one.bound!)})`))}.`,
    ]),
  );
}
