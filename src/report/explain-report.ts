/** The sections of a report that say why no mix fits and what would help. */
import type { BedAnswer, Miss } from "../results/solution.ts";
import { counted } from "../words/numbers.ts";
import type { BedView, View } from "./answer-view.ts";
import { type Block, blocksOf, bullets, paragraph, type Section, section, table, words } from "./report.ts";

/** What cannot hold together, what would be enough, what could be added, and the closest mix. */
export function explainSections(view: View): Section[] {
  const { solution } = view;
  const suspect = solution.warnings.filter((warning) => warning.code === "need-suspect");
  const without = view.beds.filter(({ bed }) => bed.conflicts.length > 0);
  return [
    // A slip of unit is the likeliest reason of all, so it comes first.
    ...section("Check the units first", bullets(texts(suspect))),
    ...(without.length > 0
      ? without.flatMap((one) => bedSections(view, one))
      : section(
          "What cannot hold together",
          solution.conflicts.map(({ text }) => paragraph(text)),
        )),
  ];
}

function bedSections(view: View, one: BedView): Section[] {
  const { bed } = one;
  const named = view.several ? `${bed.bed}: ` : "";
  const each = bed.conflicts.length > 1 ? "Each of these has to be mended." : "";
  return [
    ...section(`${named}what cannot hold together`.replace(/^w/, "W"), paragraph(each), conflictBlocks(one)),
    ...section("What could be added", remedyBlocks(bed)),
    ...section("Or ask for less", lessBlocks(bed)),
    ...closestSections(bed, view),
  ];
}

function texts(items: readonly { readonly text: string }[]): string[] {
  return items.map(({ text }) => text);
}

/** What cannot be kept together; of several conflicts each with what would mend it, of one that follows what to add. */
function conflictBlocks({ bed: { conflicts }, plan }: BedView): Block[] {
  // How risk is shared out among needs is searched for, not proven.
  const searched = conflicts.some(({ relaxations = [] }) =>
    relaxations.some(({ tag }) => tag.kind === "sure"),
  );
  const none = searched && plan.sure?.together ? "was found that keeps" : "keeps";
  return conflicts.flatMap(({ text, reason, demands, relaxations = [] }) =>
    blocksOf(
      demands.length > 2
        ? [paragraph(`No mix of these amendments ${none} all of these at once:`, "strong"), bullets(demands)]
        : paragraph(reason ?? text, "strong"),
      conflicts.length > 1 ? enoughBlocks(texts(relaxations)) : [],
    ),
  );
}

function enoughBlocks(ways: readonly string[]): Block[] {
  return [
    paragraph(["", "It would be enough to:"][ways.length] ?? "Any one of these would be enough:"),
    bullets(ways),
  ];
}

/** What would have to give way: of one conflict any of its demands, and all that give way together where that is less. */
function lessBlocks({ conflicts, leastRelaxation = [] }: BedAnswer): Block[] {
  const said = conflicts.flatMap(({ relaxations = [] }) => texts(relaxations));
  const ways = texts(leastRelaxation);
  const isSaid = conflicts.length === 1 && ways.every((way) => said.includes(way));
  const alone = conflicts.length === 1 ? enoughBlocks(said) : [];
  const together = said.length > 0 && alone.length > 0 ? "Or give way by less on all of these:" : "";
  return blocksOf(alone, isSaid ? [] : [paragraph(together), bullets(ways)]);
}

/** So many additions are named, the cheapest first. */
const MOST_REMEDIES = 2;

function remedyBlocks({ leastRelaxation = [], remedies = [] }: BedAnswer): Block[] {
  if (remedies.length > 0)
    return [
      bullets(texts(remedies.slice(0, MOST_REMEDIES))),
      paragraph(
        "The prices of what is added are placeholders of the shipped list: put in your own. If you are certified organic, ask your certifier first.",
      ),
    ];
  // Without a demand that could give way, nothing that could be added was looked for either.
  return leastRelaxation.length === 0
    ? []
    : [paragraph("Nothing in the shipped list would make this plan work.")];
}

function closestSections({ closest }: BedAnswer, view: View): Section[] {
  if (closest === undefined || closest.amendments.length === 0) return [];
  const { masses, money, weight } = view;
  const amount = (value: number, unit: Miss["unit"]) => {
    if (unit === "count") return counted(value, "amendment");
    return value <= 0 ? "none" : unit === "kg" ? weight(value) : `${(value * 100).toFixed(1)}%`;
  };
  return section(
    "FALLS SHORT: the closest mix",
    paragraph(
      "This is not an answer to the plan; it shows how near these amendments come: of the mixes within 1% of the nearest, the cheapest.",
      "bad",
    ),
    table(closest.amendments, [
      words("Amendment", "amendment", (a) => a.name),
      masses("In all", "weight", (a) => a.kg),
    ]),
    paragraph(`For ${money(closest.cost)} it gives`),
    bullets(closest.misses.map(({ demand, to, unit }) => `${amount(to, unit)} instead of ${demand}`)),
  );
}
