/** The sections of a report that say why no mix fits and what would help. */
import type { Miss, Solution } from "../results/solution.ts";
import { counted, money, weight } from "../words/numbers.ts";
import {
  type Block,
  bullets,
  figures,
  paragraph,
  type Section,
  tableBlock,
  tableOf,
  words,
} from "./report.ts";

/** What cannot hold together, what would be enough, what could be added, and the closest mix. */
export function explainSections(solution: Solution): Section[] {
  return [
    ...unitSections(solution),
    ...conflictSections(solution),
    ...relaxationSections(solution),
    ...remedySections(solution),
    ...closestSections(solution),
  ];
}

/** A slip of unit is the likeliest reason of all, so it comes first. */
function unitSections({ warnings }: Solution): Section[] {
  const suspect = warnings.filter((warning) => warning.code === "need-suspect");
  return suspect.length === 0
    ? []
    : [{ title: "Check the units first", blocks: [bullets(suspect.map((warning) => warning.text))] }];
}

function conflictSections({ conflicts, inputs }: Solution): Section[] {
  if (conflicts.length === 0) return [];
  // How risk is shared out among needs is searched for, not proven.
  const searched = conflicts.some(({ relaxations = [] }) =>
    relaxations.some(({ tag }) => tag.kind === "sure"),
  );
  const none = searched && inputs.sure?.together ? "was found that keeps" : "keeps";
  const blocks = conflicts.flatMap(({ text, reason, demands, relaxations = [] }): Block[] => [
    ...(demands.length > 2
      ? [paragraph(`No mix of these amendments ${none} all of these at once:`, "strong"), bullets(demands)]
      : [paragraph(reason ?? text, "strong")]),
    ...(relaxations.length === 0
      ? []
      : [
          paragraph(
            relaxations.length === 1 ? "It would be enough to:" : "Any one of these would be enough:",
          ),
          bullets(relaxations.map((way) => way.text)),
        ]),
  ]);
  return [{ title: "What cannot hold together", blocks }];
}

/** Said only where it says more than the conflicts did. */
function relaxationSections({ conflicts, leastRelaxation = [] }: Solution): Section[] {
  const said = new Set(conflicts.flatMap((conflict) => (conflict.relaxations ?? []).map((way) => way.text)));
  if (
    leastRelaxation.length === 0 ||
    (conflicts.length === 1 && leastRelaxation.every((way) => said.has(way.text)))
  )
    return [];
  return [
    {
      title: "The least that would have to give way, all in all",
      blocks: [bullets(leastRelaxation.map((way) => way.text))],
    },
  ];
}

function remedySections({ leastRelaxation = [], remedies = [] }: Solution): Section[] {
  // Without a demand that could give way, nothing that could be added was looked for either.
  if (remedies.length === 0 && leastRelaxation.length === 0) return [];
  const blocks =
    remedies.length > 0
      ? [
          bullets(remedies.map((remedy) => remedy.text)),
          paragraph(
            "The prices of what is added are placeholders of the shipped list: put in your own. If you are certified organic, ask your certifier first.",
          ),
        ]
      : [paragraph("Nothing in the shipped list would make this plan work.")];
  return [{ title: "What could be added", blocks }];
}

function closestSections({ closest, units, currency }: Solution): Section[] {
  if (closest === undefined || closest.amendments.length === 0) return [];
  const shown = (kg: number) => weight(kg, units);
  const amount = (value: number, unit: Miss["unit"]) => {
    if (unit === "count") return counted(value, "amendment");
    return value <= 0 ? "none" : unit === "kg" ? shown(value) : `${(value * 100).toFixed(1)}%`;
  };
  const falls = closest.misses.map(({ demand, to, unit }) => `${amount(to, unit)} instead of ${demand}`);
  return [
    {
      title: "FALLS SHORT: the closest mix",
      blocks: [
        paragraph("This is not an answer to the plan; it shows how near these amendments come.", "bad"),
        tableBlock(
          tableOf(closest.amendments, [
            words("Amendment", "amendment", (a) => a.name),
            figures("In all", "weight_kg", (a) => a.kg, shown),
          ]),
        ),
        paragraph(`For ${money(closest.cost, currency)} it gives`),
        bullets(falls),
      ],
    },
  ];
}
