/** `schema`: the JSON Schema of a kind of file, with which editors complete and check while one types. */
import { nearest, ok, type Result } from "../problem.ts";
import { paragraph, type Report } from "../report/report.ts";
import { listed } from "../words/numbers.ts";
import { type Command, type CommandOutput, EXIT, UsageError } from "./command.ts";
import { renderJson } from "./render.ts";

/** The kinds of file that have a schema. Kept here so that help needs no validator. */
export const SCHEMA_KINDS = ["plan", "amendments", "target", "mix", "cases", "credits"] as const;

export const command: Command = {
  name: "schema",
  describe: "print the JSON Schema of a kind of file",
  formats: ["text"],
  usual: "json",
  choices: SCHEMA_KINDS,

  configure(command) {
    command.argument("<kind>", listed(SCHEMA_KINDS).replace(" and ", " or "));
    command.addHelpText(
      "after",
      [
        "",
        "An editor that knows YAML schemas completes and checks a file that begins with",
        "  # yaml-language-server: $schema=plan.schema.json",
        "where that file was made by `barrowmix schema plan --out plan.schema.json`.",
        "`barrowmix init` sets this up. `barrowmix check` finds more than a schema can.",
      ].join("\n"),
    );
  },

  async run([kind]): Promise<Result<CommandOutput>> {
    const known = SCHEMA_KINDS.find((name) => name === kind);
    if (known === undefined) {
      const near = nearest(String(kind), SCHEMA_KINDS);
      throw new UsageError(
        `no kind of file is called \`${String(kind)}\`; ${near ? `did you mean \`${near}\`?` : `there are ${listed(SCHEMA_KINDS)}`}`,
      );
    }
    const { jsonSchema } = await import("../files/schema/json-schema.ts");
    const schema = jsonSchema(known);
    return ok({
      exitCode: EXIT.done,
      json: schema,
      text: () => renderJson(schema),
      report: (): Report => ({
        title: `JSON Schema of a file: ${known}`,
        summary: [paragraph("It is made for programs: leave the format out to print it.")],
        sections: [],
        csv: { columns: [], rows: [] },
      }),
    });
  },
};
