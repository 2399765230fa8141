/**
 * Season files: the plan that was decided on, in weights, and a log of what has happened since. History is weights: a price
 * that changes, or a plan that is edited, moves nothing that has been spread.
 */
import { basename } from "node:path";
import { dateOfDay, dayOfDate, looksLikeDate, parseDate } from "../calendar.ts";
import type { Amendment, Plan } from "../model.ts";
import { defined } from "../optional.ts";
import { type Notice, nearest } from "../problem.ts";
import { parseDay } from "../units.ts";
import { isDefined, readShelf, resolveEntry, type Shelf } from "./amendments.ts";
import { type Cursor, ofKind, openFile } from "./context.ts";
import { readPlanted } from "./own-words.ts";
import { readPlan } from "./plan.ts";
import type { Read } from "./schema/base.ts";
import {
  LINE_KEYS,
  LINE_KINDS,
  type LineKind,
  lineShape,
  PLANNED_KEYS,
  parsePacks,
  parseSpreadAmount,
  type SpreadAmount,
  seasonShape,
} from "./schema/season.ts";
import {
  type BoughtLine,
  type Kilograms,
  type LineBase,
  type LogLine,
  type NitrateLine,
  type PlannedRound,
  type SeasonFile,
  type SeasonMix,
  type SpreadLine,
  sumOf,
  type ToBuy,
} from "./season-model.ts";
import { remarksOnLog } from "./season-remarks.ts";
import type { Override } from "./source.ts";

/** Nitrate weighs so much more than its nitrogen: 62.005 / 14.007. */
const NO3_PER_N = 4.43;

/** A log goes no further than this from planting, either way. */
const MOST_BEFORE = 400;
const MOST_AFTER = 800;

type Fields = Read<ReturnType<typeof seasonShape>>;
type LineFields = Read<ReturnType<typeof lineShape>>;

const A_SEASON = "a season: a map with `season`, `planted` and `log`";

/**
 * Reads a season.
 * @param overrides those to lay over its plan.
 * @returns undefined where something is wrong with it (reported).
 */
export function readSeason(file: Cursor, overrides: readonly Override[] = []): SeasonFile | undefined {
  const { loading } = file;
  const fields = file.readMap(seasonShape(), A_SEASON, ["planted", "log"]);
  const own = readPlanted(file);
  const named = planOf(file, fields, own, overrides);
  if (named === undefined) return undefined;
  const { beds, shelf, materials } = named;
  const planted = beds[0]!.planted;
  if (planted === undefined) {
    file.at("planted").complain({
      code: "date-unreadable",
      wrong: "neither the season nor its plan says when the crop was planted",
      hint: "add the day, for instance `planted: 2027-05-20`",
    });
    return undefined;
  }
  const reader = new SeasonReader(file, fields, { beds, shelf, materials, planted });
  const read = reader.read();
  if (loading.problems.length > 0) return undefined;
  return {
    file: file.tree.file === "" ? "season" : file.tree.file,
    beds,
    planted,
    units: beds[0]!.units,
    currency: beds[0]!.currency,
    people: fields.people ?? {},
    materials: [...materials.values()].sort((a, b) => (a.id < b.id ? -1 : 1)),
    ...read,
  };
}

/** The plan that a season names, planted when the season says, and all that its files define. */
function planOf(
  file: Cursor,
  { season }: Fields,
  planted: string | undefined,
  overrides: readonly Override[],
): { beds: readonly Plan[]; shelf: Shelf; materials: Map<string, Amendment> } | undefined {
  const at = file.at("season");
  if (season === undefined) {
    if (!at.has())
      at.complain({
        code: "key-missing",
        wrong: "the season names no plan",
        hint: "add `season: plan.yaml`",
      });
    return undefined;
  }
  const opened = ofKind(openFile(file.loading, at.resolve(season), at), "plan", at);
  if (opened === undefined) return undefined;
  const here: Override[] =
    planted === undefined
      ? []
      : [{ path: ["planted"], value: planted, flag: `planted of ${basename(file.tree.file)}` }];
  const plan = readPlan(opened, [...here, ...overrides], []);
  if (plan === undefined) return undefined;
  const shelf = readShelf(opened, { wrong: "the plan names no amendments", hint: "add `amendments:`" }, []);
  const materials = new Map(plan.amendments.map((one) => [one.id, one]));
  for (const [id, entry] of shelf.entries) {
    const one = materials.has(id) ? undefined : resolveEntry(file.loading, entry, shelf)?.amendment;
    if (one) materials.set(id, one);
  }
  return { beds: [plan], shelf, materials };
}

interface Around {
  readonly beds: readonly Plan[];
  readonly shelf: Shelf;
  readonly materials: ReadonlyMap<string, Amendment>;
  readonly planted: string;
}

/** Reads what is below a season's plan, with what that plan says at hand. */
class SeasonReader {
  readonly #bedNames: readonly string[];
  #mixes: readonly SeasonMix[] = [];
  #planned: readonly PlannedRound[] = [];
  readonly #warnings: Notice[] = [];

  constructor(
    readonly file: Cursor,
    readonly fields: Fields,
    readonly around: Around,
  ) {
    this.#bedNames = around.beds.map(({ name }) => name);
  }

  read() {
    this.#mixes = this.#readMixes();
    this.#planned = this.#readPlanned();
    const shed = this.#ofMaterials(this.file.at("shed"), this.fields.shed ?? {});
    const toBuy = this.#readToBuy();
    const log = this.#readLog();
    return {
      mixes: this.#mixes,
      planned: this.#planned,
      shed,
      toBuy,
      log,
      warnings: [...this.around.beds.flatMap(({ warnings }) => warnings), ...this.#warnings],
    };
  }

  #warn(code: string, text: string): void {
    this.#warnings.push({ code, text });
  }

  /** Weights by id of what the plan's files define; others are reported. */
  #ofMaterials<T>(at: Cursor, kg: Readonly<Record<string, T>>): Record<string, T> {
    const known = Object.entries(kg).filter(([id]) => isDefined(at.at(id), id, this.around.shelf, "key"));
    return Object.fromEntries(known);
  }

  #readMixes(): SeasonMix[] {
    const all = this.file.at("mixes");
    const batchOf = this.around.beds[0]!.batch;
    for (const name of Object.keys(this.fields.batches ?? {}))
      if (!Object.hasOwn(this.fields.mixes ?? {}, name))
        this.file.at("batches", name).complainOfKey({
          code: "choice-unknown",
          given: name,
          wrong: "is no mix of this season",
          near: nearest(name, Object.keys(this.fields.mixes ?? {})),
          hint: "name a mix that is under `mixes`",
        });
    return Object.entries(this.fields.mixes ?? {}).map(([name, weights]) => {
      const kg = this.#ofMaterials(all.at(name), weights);
      const heapKg = sumOf(kg);
      const said = this.fields.batches?.[name];
      const size = batchOf && "kg" in batchOf ? batchOf.kg : heapKg;
      return { name, kg, heapKg, batches: said ?? Math.max(1, Math.ceil(heapKg / size - 1e-9)) };
    });
  }

  #readPlanned(): PlannedRound[] {
    const list = this.file.at("planned");
    if (!list.has()) return this.#plannedByShares();
    return (this.fields.planned ?? []).flatMap((item, i): PlannedRound[] => {
      const at = list.at(i);
      const bed = this.#bedNamed(at.at("bed"), item.bed);
      const round = item.round === undefined ? undefined : String(item.round);
      if (round === undefined)
        at.complainOfKey({
          code: "key-missing",
          wrong: "this round has no name",
          hint: "add `round: planting`",
        });
      const day = this.#dayAt(at.at("day"), item.day);
      if (bed === undefined || round === undefined || day === undefined) return [];
      const given = Object.entries(item).filter(
        ([key]) => !(PLANNED_KEYS as readonly string[]).includes(key),
      );
      const amounts = given.flatMap(([name, written]) => {
        const read = parseSpreadAmount(written as string | number);
        if (!read.ok) at.at(name).complain(read);
        const kg = read.ok ? this.#amountOf(at.at(name), name, read.value, bed) : undefined;
        return kg === undefined ? [] : [{ name, kg }];
      });
      const placement = this.#roundOf(bed, round)?.placement;
      return [{ bed, round, day, gives: asMap(amounts), ...defined({ placement }) }];
    });
  }

  /** Where the file says no rounds: of one bed, each takes its share of the heap, or a mix of its own name. */
  #plannedByShares(): PlannedRound[] {
    const [plan, other] = this.around.beds;
    if (other !== undefined) {
      this.file.at("planned").complain({
        code: "key-missing",
        wrong: "the season of a farm does not say what each bed gets",
        hint: "add `planned:` as `solve --save` writes it",
      });
      return [];
    }
    return plan!.applications.map(({ name, day, share, placement }) => ({
      bed: plan!.name,
      round: name,
      day,
      gives: Object.fromEntries(
        this.#mixes.flatMap((mix) => {
          const part = plan!.blend === "one" ? share : mix.name === name ? 1 : 0;
          return part > 0 ? [[mix.name, part * mix.heapKg]] : [];
        }),
      ),
      ...defined({ placement }),
    }));
  }

  #readToBuy(): ToBuy[] {
    return (this.fields.to_buy ?? []).flatMap((item, i): ToBuy[] => {
      const at = this.file.at("to_buy", i);
      const [id, other] = Object.keys(item).filter((key) => key !== "supplier" && key !== "price");
      if (id === undefined || other !== undefined) {
        at.complain({
          code: id === undefined ? "key-missing" : "key-unknown",
          wrong: id === undefined ? "this buys nothing" : `\`${other}\` is one material too many`,
          hint: "write one material a line: `{feather-meal: 1 x 50 lb, supplier: mill, price: 43.50}`",
        });
        return [];
      }
      if (!isDefined(at.at(id), id, this.around.shelf, "key")) return [];
      const packs = this.#packsAt(at.at(id), id, item[id] as string | number);
      if (packs === undefined) return [];
      const price = item.price === undefined ? undefined : Number(item.price);
      if (price !== undefined && !(price >= 0)) {
        at.at("price").complain({
          code: "number-unreadable",
          given: item.price,
          wrong: "is not a price",
          hint: "write a number, for instance `price: 43.50`",
        });
        return [];
      }
      const supplier = item.supplier === undefined ? undefined : String(item.supplier);
      return [{ id, text: String(item[id]), ...packs, ...defined({ supplier, price }) }];
    });
  }

  #packsAt(at: Cursor, id: string, written: string | number) {
    const read = parsePacks(written);
    if (!read.ok) {
      at.complain(read);
      return undefined;
    }
    const { count, size } = read.value;
    const sizeKg = "kg" in size ? size.kg : this.#kgOfLitres(at, id, size.litres);
    return sizeKg === undefined ? undefined : { count, sizeKg };
  }

  /** kg of a volume of a material or of a mix; undefined where a density is missing (reported). */
  #kgOfLitres(at: Cursor, name: string, litres: number): number | undefined {
    const mix = this.#mixes.find((one) => one.name === name);
    const parts = mix ? Object.entries(mix.kg) : [[name, 1] as const];
    let volume = 0;
    for (const [id, kg] of parts) {
      const density = this.around.materials.get(id)?.densityKgPerL;
      if (density === undefined) {
        at.complain({
          code: "density-missing",
          wrong: `a volume of \`${name}\`, and \`${id}\` has no density`,
          hint: "give a weight, or add `density` to the amendment, for instance `density: 0.6 kg/L`",
        });
        return undefined;
      }
      volume += kg / density;
    }
    return (litres * parts.reduce((sum, [, kg]) => sum + kg, 0)) / volume;
  }

  /** kg of an amount of a mix or a material for a bed; undefined where it cannot be told (reported). */
  #amountOf(at: Cursor, name: string, amount: SpreadAmount, bed: string): number | undefined {
    const mix = this.#mixes.find((one) => one.name === name);
    if (mix === undefined && !this.#isKnown(at, name)) return undefined;
    const simple = (given: { readonly kg: number } | { readonly litres: number }): number | undefined =>
      "kg" in given ? given.kg : this.#kgOfLitres(at, name, given.litres);
    if ("batches" in amount) {
      if (mix) return (amount.batches * mix.heapKg) / mix.batches;
      at.complain({
        code: "unit-kind",
        wrong: `\`${name}\` is a material, and only a mix is made in batches`,
        hint: "give a weight, for instance `6 lb`",
      });
      return undefined;
    }
    if (!("perPlant" in amount)) return simple(amount);
    const each = simple(amount.perPlant);
    const plants = this.around.beds.find((one) => one.name === bed)?.bed.plants;
    if (plants === undefined)
      at.complain({
        code: "bed-missing",
        wrong: `an amount for each plant, and the plan does not say how many plants ${bed} holds`,
        hint: "add `plants: 240` under `bed`, or give a weight",
      });
    return each === undefined || plants === undefined ? undefined : each * plants;
  }

  #isKnown(at: Cursor, name: string): boolean {
    if (this.around.shelf.entries.has(name)) return true;
    const mixes = this.#mixes.map((mix) => mix.name);
    const ids = [...this.around.shelf.entries.keys()].sort();
    at.complainOfKey({
      code: "amendment-unknown",
      wrong: `\`${name}\` is neither a mix of this season nor a material of its plan`,
      near: nearest(name, [...mixes, ...ids]),
      hint: `the mixes are ${mixes.join(", ") || "none"}; the materials ${ids.slice(0, 12).join(", ")}`,
    });
    return false;
  }

  #bedNamed(at: Cursor, written: unknown): string | undefined {
    const names = this.#bedNames;
    if (written === undefined) return names.length === 1 ? names[0] : this.#bedMissing(at);
    const name = String(written);
    if (names.includes(name)) return name;
    at.complain({
      code: "choice-unknown",
      given: name,
      wrong: "is no bed of this season",
      near: nearest(name, names),
      hint: names.length === 1 ? `the bed is \`${names[0]}\`` : `the beds are ${names.join(", ")}`,
    });
    return undefined;
  }

  #bedMissing(at: Cursor): undefined {
    at.complain({
      code: "key-missing",
      wrong: "this does not say which bed",
      hint: `add \`bed:\` with one of ${this.#bedNames.join(", ")}`,
    });
    return undefined;
  }

  #roundOf(bed: string, round: string) {
    return this.around.beds.find(({ name }) => name === bed)?.applications.find(({ name }) => name === round);
  }

  /** A date, or a day of the season, as days from planting. */
  #dayAt(at: Cursor, written: unknown): number | undefined {
    if (written === undefined) {
      at.complain({
        code: "key-missing",
        wrong: "the day is missing",
        hint: "add `day: 2027-09-10`, or a day of the season",
      });
      return undefined;
    }
    const text = String(written).trim();
    const bare = text.replace(/^day\s+/i, "");
    const date = looksLikeDate(bare) ? parseDate(bare) : null;
    if (looksLikeDate(bare) && date === null) {
      at.complain({
        code: "date-unreadable",
        given: text,
        wrong: "is not a date",
        hint: "write `2027-09-10` or `September 10`",
      });
      return undefined;
    }
    const read = date ? ({ ok: true, value: dayOfDate(date, this.around.planted) } as const) : parseDay(text);
    if (!read.ok) {
      at.complain(read);
      return undefined;
    }
    if (read.value >= -MOST_BEFORE && read.value <= MOST_AFTER) return read.value;
    at.complain({
      code: "day-outside",
      given: text,
      wrong: `is ${Math.abs(read.value)} days ${read.value < 0 ? "before" : "after"} planting (${this.around.planted})`,
      hint: "check the year",
    });
    return undefined;
  }

  #readLog(): LogLine[] {
    const log = this.file.at("log");
    // A season that has just begun has the key and no line below it.
    if (log.written() === null) return [];
    const read = log.items("a list of lines such as `- {day: 2027-08-01, spread: planting}`");
    const lines = read.map((at, i) => this.#readLine(at, i + 1));
    const voided = new Set<number>();
    for (const [i, line] of lines.entries())
      if (line?.kind === "void" && this.#isVoidable(read[i]!, line, lines)) voided.add(line.voids);
    const kept = lines.flatMap((line): LogLine[] =>
      line === undefined || line.kind === "void" || voided.has(line.number) ? [] : [line],
    );
    const { planted, beds } = this.around;
    const around = { planted, beds: beds.length, planned: this.#planned, mixes: this.#mixes };
    this.#warnings.push(...remarksOnLog(kept, around));
    return kept.toSorted((a, b) => a.day - b.day);
  }

  #readLine(at: Cursor, number: number): LogLine | VoidLine | undefined {
    const before = this.file.loading.problems.length;
    const fields = at.readMap(lineShape(), "a line such as `{day: 2027-08-01, spread: planting}`");
    const day = this.#dayAt(at.at("day"), at.written("day"));
    const kind = this.#kindOf(at);
    if (day === undefined || kind === undefined || this.file.loading.problems.length > before)
      return undefined;
    const { who } = fields;
    const note = fields.note === undefined ? undefined : [fields.note].flat().join(" ");
    const base = { number, line: this.#lineOf(at), day, ...defined({ note, who }) };
    return this.#ofKind(kind, at, fields, base);
  }

  #lineOf(at: Cursor): number {
    return at.tree.position(at.path).place?.line ?? 0;
  }

  /** What a line is of: exactly one of the kinds, with keys of that kind alone. */
  #kindOf(at: Cursor): LineKind | undefined {
    const [kind, other] = LINE_KINDS.filter((key) => at.has(key));
    if (kind === undefined || other !== undefined) {
      at.complain({
        code: kind === undefined ? "key-missing" : "key-conflict",
        wrong:
          kind === undefined
            ? "this line does not say what happened"
            : `a line is of one thing, and this one says \`${kind}\` and \`${other}\``,
        hint:
          kind === undefined
            ? `add one of ${LINE_KINDS.map((key) => `\`${key}\``).join(", ")}`
            : "write a line for each",
      });
      return undefined;
    }
    const keys = [kind, ...LINE_KEYS[kind], "day", "bed", "who", "note", "source", "sources"];
    const strange = at.keys("a line").filter((key) => Object.hasOwn(lineShape(), key) && !keys.includes(key));
    for (const key of strange)
      at.at(key).complainOfKey({
        code: "key-unknown",
        wrong: `\`${key}\` means nothing in a line with \`${kind}\``,
        hint: `keys of such a line: ${keys.slice(0, -2).join(", ")}`,
      });
    return kind;
  }

  #ofKind(kind: LineKind, at: Cursor, fields: LineFields, base: LineBase): LogLine | VoidLine | undefined {
    switch (kind) {
      case "bought":
        return this.#bought(at, fields, base);
      case "spread":
        return this.#spread(at, fields, base);
      case "rain":
      case "water": {
        const beds = this.#bedsOf(at, fields.bed);
        const evaporationM = fields.evaporation;
        return beds && { ...base, kind, beds, fallenM: fields[kind]!, ...defined({ evaporationM }) };
      }
      case "soil_nitrate":
        return this.#nitrate(at, fields, base);
      case "tissue": {
        const beds = this.#bedsOf(at, fields.bed);
        return beds && { ...base, kind, beds, text: fields.tissue! };
      }
      case "left":
        return { ...base, kind, kg: this.#ofMaterials(at.at("left"), fields.left!) };
      case "kept": {
        const kept = Object.entries(fields.kept!).flatMap(([name, amount]) => {
          const here = at.at("kept", name);
          if (!this.#mixes.some((mix) => mix.name === name)) {
            here.complainOfKey({
              code: "choice-unknown",
              given: name,
              wrong: "is no mix of this season",
              near: nearest(
                name,
                this.#mixes.map((mix) => mix.name),
              ),
              hint: "what is kept is a mix; materials that are left go under `left`",
            });
            return [];
          }
          const kg = this.#amountOf(here, name, amount, this.#bedNames[0]!);
          return kg === undefined ? [] : [[name, kg] as const];
        });
        return { ...base, kind, kg: Object.fromEntries(kept) };
      }
      case "void": {
        const day = this.#dayAt(at.at("void", "day"), fields.void!.day);
        return day === undefined ? undefined : { ...base, kind, voids: fields.void!.line, voidsDay: day };
      }
    }
  }

  #bought(at: Cursor, fields: LineFields, base: LineBase): BoughtLine | undefined {
    const id = fields.bought!;
    if (!isDefined(at.at("bought"), id, this.around.shelf)) return undefined;
    if ((fields.packs === undefined) === (fields.weight === undefined)) {
      at.complain({
        code: fields.packs === undefined ? "key-missing" : "key-conflict",
        wrong:
          fields.packs === undefined
            ? "this does not say how much was bought"
            : "`packs` and `weight` both say how much was bought",
        hint: "write `packs: 1 x 50 lb`, or `weight: 12 kg` for what is sold loose",
      });
      return undefined;
    }
    const packs = fields.packs && this.#packsAt(at.at("packs"), id, String(at.written("packs")));
    if (fields.packs && packs === undefined) return undefined;
    const kg = packs ? packs.count * packs.sizeKg : fields.weight!;
    const { supplier, paid, lot } = fields;
    return { ...base, kind: "bought", id, kg, ...defined({ packs, supplier, paid, lot }) };
  }

  #bedsOf(at: Cursor, written: string | readonly string[] | undefined): readonly string[] | undefined {
    if (written === undefined) return this.#bedNames;
    const names = [written].flat();
    const known = names.flatMap((name, i) => this.#bedNamed(at.at("bed").item(i), name) ?? []);
    return known.length === names.length ? known : undefined;
  }

  #spread(at: Cursor, fields: LineFields, base: LineBase): SpreadLine | undefined {
    const { part = 1, placement } = fields;
    const lots = this.#ofMaterials(at.at("lots"), fields.lots ?? {});
    const given = fields.spread!;
    const shared = { ...base, kind: "spread", lots } as const;
    if (typeof given === "string") {
      const rounds = this.#planned.filter(({ round }) => round === given);
      if (rounds.length === 0) return this.#roundUnknown(at.at("spread"), given);
      const beds = fields.bed === undefined ? rounds.map(({ bed }) => bed) : this.#bedsOf(at, fields.bed);
      const absent = beds?.find((bed) => !rounds.some((round) => round.bed === bed));
      if (absent !== undefined)
        at.at("bed").complain({
          code: "application-unknown",
          wrong: `${absent} has no round \`${given}\``,
          hint: `${[...new Set(rounds.map(({ bed }) => bed))].join(", ")} ${rounds.length === 1 ? "has" : "have"} one`,
        });
      if (beds === undefined || absent !== undefined) return undefined;
      const got = rounds.filter(({ bed }) => beds.includes(bed));
      const times = (kg: Kilograms): Kilograms =>
        Object.fromEntries(Object.entries(kg).map(([id, value]) => [id, part * value]));
      return {
        ...shared,
        round: given,
        beds: got.map((round) => ({
          bed: round.bed,
          gives: times(round.gives),
          ...defined({ placement: placement ?? round.placement }),
        })),
      };
    }
    if (fields.part !== undefined)
      at.at("part").complainOfKey({
        code: "key-conflict",
        wrong: "`part` is of a planned round, and this line gives amounts",
        hint: "leave `part` out",
      });
    if (fields.bed === undefined && this.#bedNames.length > 1) return this.#bedMissing(at);
    const beds = this.#bedsOf(at, fields.bed);
    if (beds === undefined) return undefined;
    const spread = beds.map((bed) => {
      const amounts = Object.entries(given).flatMap(([name, amount]) => {
        const kg = this.#amountOf(at.at("spread", name), name, amount, bed);
        return kg === undefined ? [] : [{ name, kg }];
      });
      return { bed, gives: asMap(amounts), ...defined({ placement }) };
    });
    return { ...shared, beds: spread };
  }

  #roundUnknown(at: Cursor, given: string): undefined {
    const names = [...new Set(this.#planned.map(({ round }) => round))];
    const material = this.around.shelf.entries.has(given) || this.#mixes.some(({ name }) => name === given);
    at.complain({
      code: "application-unknown",
      wrong: `no planned round is called \`${given}\``,
      near: material ? undefined : nearest(given, names),
      hint: material
        ? `say how much of it: \`spread: {${given}: 6 lb}\``
        : `the rounds are ${names.map((name) => `\`${name}\``).join(", ")}`,
    });
    return undefined;
  }

  #nitrate(at: Cursor, fields: LineFields, base: LineBase): NitrateLine | undefined {
    const beds = this.#bedsOf(at, fields.bed);
    if (fields.depth === undefined) {
      at.complain({
        code: "key-missing",
        wrong: "a reading in ppm without the depth of the sample does not say how much nitrogen there is",
        hint: "add `depth: 12 in`",
      });
      return undefined;
    }
    if (beds === undefined) return undefined;
    const written = fields.soil_nitrate!;
    const asNo3 = fields.as === "NO3";
    if (fields.as === undefined)
      this.#warn(
        "nitrate-as",
        `Line ${base.line} of the season does not say whether the reading is NO3-N or NO3: it is taken as NO3-N. NO3 is ${NO3_PER_N} times as much for the same nitrogen; add \`as: NO3-N\` or \`as: NO3\`.`,
      );
    const { accuracy, holds } = fields;
    return {
      ...base,
      kind: "nitrate",
      beds,
      ppm: asNo3 ? written / NO3_PER_N : written,
      depthM: fields.depth,
      ...defined({ ppmNo3: asNo3 ? written : undefined, accuracy, holds }),
    };
  }

  #isVoidable(
    at: Cursor,
    { number, voids, voidsDay }: VoidLine,
    lines: readonly (LogLine | VoidLine | undefined)[],
  ) {
    const line = at.at("void", "line");
    if (voids > lines.length || voids === number) {
      line.complain({
        code: "number-range",
        given: voids,
        wrong: voids === number ? "is this line itself" : "is no line of the log",
        hint: `count the lines of the log in the file's order: 1 to ${lines.length}`,
      });
      return false;
    }
    const meant = lines[voids - 1];
    if (meant === undefined) return false;
    if (meant.day === voidsDay) return true;
    const others = lines.flatMap((one) =>
      one && one.day === voidsDay && one.kind !== "void" ? [one.number] : [],
    );
    at.at("void", "day").complain({
      code: "date-unreadable",
      wrong: `line ${voids} of the log is of ${dateOfDay(meant.day, this.around.planted)}, not of ${dateOfDay(voidsDay, this.around.planted)}; nothing is taken back`,
      hint:
        others.length === 0
          ? "count the lines in the file's order and give the day of that line"
          : `of that day ${others.length === 1 ? "is line" : "are lines"} ${others.join(", ")}`,
    });
    return false;
  }
}

interface VoidLine extends LineBase {
  readonly kind: "void";
  readonly voids: number;
  readonly voidsDay: number;
}

const asMap = (amounts: readonly { readonly name: string; readonly kg: number }[]): Kilograms =>
  Object.fromEntries(amounts.map(({ name, kg }) => [name, kg]));
