/** `prices import`: puts the prices of a supplier's list into an amendments file, and leaves the rest of it alone. */
import { resolve } from "node:path";
import type { FileReader } from "../files/load.ts";
import type { Priced } from "../files/price-edit.ts";
import { BadInput, nearest, type Problem } from "../problem.ts";
import {
  bullets,
  cell,
  figures,
  fullTableOf,
  paragraph,
  type Report,
  table,
  words,
} from "../report/report.ts";
import type { OfferChange, PricesResult } from "../results/listing.ts";
import { counted, decimal, plainNumber } from "../words/numbers.ts";
import { type Command, type CommandOutput, EXIT, textOption, UsageError, unwrap } from "./command.ts";
import { where } from "./plan-options.ts";
import { decimalOf } from "./price-flags.ts";

export const command: Command = {
  arguments: [
    ["<action>", "import"],
    ["<list>", "a CSV file: id, size, price and perhaps supplier; - reads standard input"],
  ],
  flags: [
    ["--into <file>", "the amendments file to change"],
    ["--decimal <sign>", "how the list writes decimals: point (1,500.25) or comma (1.500,25)"],
    ["--dry-run", "show what would change and write nothing"],
  ],
  notes: [
    "The list, with a first row that names its columns:",
    "  id,size,price,supplier",
    "  feather-meal,50 lb,41.00,farm-store",
    "  feather-meal,50 lb,39.50,mill",
    "  wood-ash,per lb,0.25,",
    "",
    "Offers of the same size and supplier get the new price, others are added, those",
    "that the list does not name keep theirs. Comments, order and layout of the file",
    "stay as they are. With anything wrong in the list or an unknown id, nothing is",
    "written.",
  ],

  async run([action, list], options, context): Promise<CommandOutput> {
    if (action !== "import") {
      const near = nearest(String(action), ["import"]);
      throw new UsageError(
        `there is no \`prices ${String(action)}\`; ${near ? "did you mean" : "there is"} \`prices import list.csv --into amendments.yaml\``,
      );
    }
    const into = textOption(options, "into");
    if (into === undefined) throw new UsageError("say which file the prices go into: --into amendments.yaml");
    const dryRun = options.dryRun === true;
    const { world } = context;
    const at = where(context);
    const intoPath = resolve(world.cwd, into);
    const listText = context.files.read(resolve(world.cwd, String(list)));
    if (listText === null)
      throw new BadInput([
        unreadable(String(list)),
        ...(world.files.read(intoPath) === null ? [unreadable(into)] : []),
      ]);
    const [{ putPrices }, { readPriceList }, { amendmentIds, checkFiles }] = await Promise.all([
      import("../files/price-edit.ts"),
      import("../files/price-list.ts"),
      import("../files/load.ts"),
    ]);
    const rows = unwrap(readPriceList(listText, String(list), decimalOf(options)));

    const priced = (yaml: string | null): Priced => {
      if (yaml === null) throw new BadInput([unreadable(into)]);
      const elsewhere = amendmentIds(world.files, into, at);
      const put = unwrap(putPrices(yaml, into, rows, elsewhere, { file: String(list), text: listText }));
      // What the list says may be well formed and still not fit, such as a size by volume without a density.
      const seen = (text: string): readonly Problem[] => {
        const reader: FileReader = {
          ...world.files,
          read: (path) => (path === intoPath ? text : world.files.read(path)),
        };
        return checkFiles(reader, [into], at)[0]?.problems ?? [];
      };
      const before = new Set(seen(yaml).map(identity));
      const caused = seen(put.text).filter((problem) => !before.has(identity(problem)));
      if (caused.length > 0) throw new BadInput(caused);
      return put;
    };
    let changes: Priced["changes"] = [];
    let written = false;
    const change = (yaml: string | null): string | null => {
      const put = priced(yaml);
      changes = put.changes;
      written = !dryRun && put.text !== yaml;
      return written ? put.text : null;
    };
    if (dryRun) change(world.files.read(intoPath));
    else world.files.update(intoPath, change);
    return {
      exitCode: EXIT.done,
      json: {
        schema: "barrowmix.prices/1",
        list: String(list),
        into,
        dryRun,
        written,
        changes,
      } satisfies PricesResult,
      report: () => pricesReport(into, changes, { dryRun, written }),
      remarks: written ? [`Changed ${into}.`] : [],
    };
  },
};

/** What makes a problem the same one although lines moved. */
function identity({ code, path, message }: Problem): string {
  return JSON.stringify([code, path, message]);
}

function unreadable(file: string): Problem {
  return {
    code: "file-unreadable",
    message: `the file \`${file}\` is not there or cannot be read`,
    hint: "check the name and the folder",
  };
}

const WHAT: Readonly<Record<OfferChange["what"], string>> = {
  changed: "new price",
  added: "added",
  same: "as before",
  kept: "kept: not in the list",
};

function pricesReport(
  into: string,
  changes: readonly OfferChange[],
  { dryRun, written }: { readonly dryRun: boolean; readonly written: boolean },
): Report {
  const moved = changes.filter((c) => c.what === "changed" || c.what === "added");
  const kept = changes.filter((c) => c.what === "kept");
  return {
    title: `${counted(moved.length, "price")} ${dryRun ? "would change" : "changed"} in ${into}`,
    summary: [
      table(changes, [
        words("Amendment", "id", (c) => c.id),
        words("Size", "size", (c) => c.size),
        words("From", "supplier", (c) => c.supplier ?? null),
        figures(
          "Before",
          "before",
          (c) => c.before,
          (value) => decimal(value, 2),
        ),
        figures(
          "Now",
          "now",
          (c) => c.after ?? c.before,
          (value) => decimal(value, 2),
        ),
        words("", "what", (c) => cell(WHAT[c.what], c.what === "kept" ? "bad" : "plain")),
      ]),
      ...(kept.length > 0
        ? [
            bullets([
              `${counted(kept.length, "size")} that the list does not name ${kept.length === 1 ? "keeps its price" : "keep their prices"}: take ${kept.length === 1 ? "it" : "them"} out if nobody sells ${kept.length === 1 ? "it" : "them"}.`,
            ]),
          ]
        : []),
      ...(written
        ? []
        : [paragraph(dryRun ? "Nothing was written (--dry-run)." : "The file says so already.", "faint")]),
    ],
    sections: [],
    csv: fullTableOf(changes, [
      words("Amendment", "id", (c) => c.id),
      words("Size", "size", (c) => c.size),
      figures("Before", "before", (c) => c.before, plainNumber),
      figures("After", "after", (c) => c.after, plainNumber),
      words("What", "what", (c) => c.what),
      words("Supplier", "supplier", (c) => c.supplier ?? ""),
    ]),
  };
}
