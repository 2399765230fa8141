/**
 * Season files: the plan that was decided on, in weights, and a log of what has happened since. History is weights: a price
 * that changes, or a plan that is edited, moves nothing that has been spread.
 */
import { basename } from "node:path";
import { dateOfDay } from "../calendar.ts";
import { type Amendment, type Plan, wholeBed } from "../model.ts";
import { defined } from "../optional.ts";
import { type Notice, nearest } from "../problem.ts";
import { parseDay } from "../units.ts";
import { isDefined, readShelf, resolveEntry, type Shelf } from "./amendments.ts";
import { type Cursor, kindOf, ofKind, openFile } from "./context.ts";
import { readFarm } from "./farm.ts";
import { dayOf, isDate, readPlanted } from "./own-words.ts";
import { readPlan } from "./plan.ts";
import type { Read } from "./schema/base.ts";
import * as schema from "./schema/season.ts";
import {
  type Kilograms,
  type LineBase,
  type LogLine,
  linesName,
  type PlannedRound,
  type SeasonFile,
  type SeasonMix,
  sumOf,
  type ToBuy,
  type VoidedLine,
} from "./season-model.ts";
import { remarksOnLog } from "./season-remarks.ts";
import type { Override } from "./source.ts";

/** Nitrate weighs so much more than its nitrogen: 62.005 / 14.007. */
const NO3_PER_N = 4.43;

/** A log goes no further than this from planting, either way. */
const MOST_BEFORE = 400;
const MOST_AFTER = 800;

type Fields = Read<ReturnType<typeof schema.seasonShape>>;
type LineFields = Read<ReturnType<typeof schema.lineShape>>;

const A_SEASON = "a season: a map with `season`, `planted` and `log`";
const A_LINE = "a line such as `{day: 2027-08-01, spread: planting}`";

/**
 * Reads a season.
 * @param overrides those to lay over its plan.
 * @returns undefined where something is wrong with it (reported).
 */
export function readSeason(file: Cursor, overrides: readonly Override[] = []): SeasonFile | undefined {
  const { loading } = file;
  const skip = ["planted", "sure", "planned", "to_buy", "log"];
  const fields = file.readMap(schema.seasonShape(), A_SEASON, skip);
  const own = readPlanted(file);
  const around = planOf(file, fields, own, overrides);
  if (around === undefined) return undefined;
  const { beds, heap, materials } = around;
  const { units, currency, planted = own } = beds[0]!;
  if (planted === undefined)
    return file.at("planted").complain({
      code: "date-unreadable",
      wrong: "neither the season nor its plan says when the crop was planted",
      hint: "add the day, for instance `planted: 2027-05-20`",
    });
  const read = new SeasonReader(file, fields, { ...around, planted }).read();
  if (loading.problems.length > 0) return undefined;
  return {
    file: file.tree.file === "" ? "season" : file.tree.file,
    beds,
    heap,
    planted,
    units,
    currency,
    people: fields.people ?? {},
    materials: [...materials.values()].sort((a, b) => (a.id < b.id ? -1 : 1)),
    ...read,
  };
}

interface Around extends Pick<SeasonFile, "beds" | "heap"> {
  readonly shelf: Shelf;
  readonly materials: ReadonlyMap<string, Amendment>;
}

/**
 * The plan or the farm that a season names, planted when the season says and as sure, and all that its files define. Beds of a
 * farm keep a day of planting of their own.
 */
function planOf(
  file: Cursor,
  { season }: Fields,
  planted: string | undefined,
  overrides: readonly Override[],
): Around | undefined {
  const at = file.at("season");
  if (!at.has()) return at.refuse("key-missing", "the season names no plan", "add `season: plan.yaml`");
  if (season === undefined) return undefined;
  const named = openFile(file.loading, at.resolve(season), at);
  const isFarm = named !== undefined && kindOf(named.tree.root) === "farm";
  const opened = isFarm ? named : ofKind(named, "plan", at);
  const laid = (key: string, value: unknown): Override[] =>
    value === undefined ? [] : [{ path: [key], value, flag: `${key} of ${basename(file.tree.file)}` }];
  const sure = laid("sure", file.at("sure").written());
  const farm = isFarm ? readFarm(named, [...sure, ...overrides], []) : undefined;
  const plan =
    isFarm || opened === undefined
      ? undefined
      : readPlan(opened, [...laid("planted", planted), ...sure, ...overrides], []);
  const beds = farm ? farm.beds.map((one) => ({ ...defined({ planted }), ...one.plan })) : plan && [plan];
  if (beds === undefined) return undefined;
  const shelf = readShelf(opened!, { wrong: "the plan names no amendments", hint: "add `amendments:`" }, []);
  const materials = new Map(beds.flatMap(({ amendments }) => amendments.map((one) => [one.id, one])));
  for (const [id, entry] of shelf.entries) {
    const one = materials.has(id) ? undefined : resolveEntry(file.loading, entry, shelf)?.amendment;
    if (one) materials.set(id, one);
  }
  return { beds, heap: farm?.heap ?? [], shelf, materials };
}

class SeasonReader {
  #mixes: readonly SeasonMix[] = [];
  #planned: readonly PlannedRound[] = [];
  #voided: readonly VoidedLine[] = [];
  readonly #warnings: Notice[] = [];

  constructor(
    readonly file: Cursor,
    readonly fields: Fields,
    readonly around: Around & { readonly planted: string },
  ) {}

  read() {
    this.#mixes = this.#readMixes();
    this.#planned = this.#readPlanned();
    const shed = this.#ofMaterials(this.file.at("shed"), this.fields.shed ?? {});
    const toBuy = this.#readToBuy();
    const log = this.#readLog();
    const warnings = [...this.around.beds.flatMap((bed) => bed.warnings), ...this.#warnings];
    return { mixes: this.#mixes, planned: this.#planned, shed, toBuy, log, voided: this.#voided, warnings };
  }

  /** Weights by id of what the plan's files define; others are reported. */
  #ofMaterials<T>(at: Cursor, kg: Readonly<Record<string, T>>): Record<string, T> {
    const known = Object.entries(kg).filter(([id]) => isDefined(at.at(id), id, this.around.shelf, "key"));
    return Object.fromEntries(known);
  }

  #readMixes(): SeasonMix[] {
    const { mixes = {}, batches = {} } = this.fields;
    const { batch } = this.around.beds[0]!;
    const read = Object.entries(mixes).map(([name, weights]) => {
      const kg = this.#ofMaterials(this.file.at("mixes", name), weights);
      const heapKg = sumOf(kg);
      const size = batch && "kg" in batch ? batch.kg : heapKg;
      return { name, kg, heapKg, batches: batches[name] ?? Math.max(1, Math.ceil(heapKg / size - 1e-9)) };
    });
    for (const name of Object.keys(batches))
      this.#isMix(this.file.at("batches", name), name, read, "name a mix that is under `mixes`");
    return read;
  }

  #isMix(at: Cursor, name: string, mixes: readonly SeasonMix[], hint: string): boolean {
    const names = mixes.map((mix) => mix.name);
    const wrong = "is no mix of this season";
    if (names.includes(name)) return true;
    at.complainOfKey({ code: "choice-unknown", given: name, wrong, near: nearest(name, names), hint });
    return false;
  }

  #readPlanned(): PlannedRound[] {
    const list = this.file.at("planned");
    if (!list.has()) return this.#plannedByShares();
    return list.items("a list of planned rounds").flatMap((at): PlannedRound[] => {
      const read = at.read(schema.plannedSchema());
      if (read === undefined) return [];
      const { known, others } = read;
      const bed = this.#bedNamed(at.at("bed"), known.bed);
      const day = this.#dayAt(at.at("day"));
      const { round } = known;
      if (round === undefined) at.refuseKey("key-missing", "this round has no name", "add `round: planting`");
      if (bed === undefined || round === undefined || day === undefined) return [];
      const { placement } = bed.applications.find(({ name }) => name === round) ?? {};
      return [
        { bed: bed.name, round, day, gives: this.#kgOfAll(at, others, bed), ...defined({ placement }) },
      ];
    });
  }

  /** Where the file says no rounds: of one bed, each takes its share of the heap, or a mix of its own name. */
  #plannedByShares(): PlannedRound[] {
    const [{ name: bed, applications, blend }, other] = this.around.beds as readonly [Plan, Plan?];
    if (other !== undefined)
      this.file.at("planned").complain({
        code: "key-missing",
        wrong: "the season of a farm does not say what each bed gets",
        hint: "add `planned:` as `solve --save` writes it",
      });
    return applications.map(({ name, day, share, placement }) => ({
      bed,
      round: name,
      day,
      gives: Object.fromEntries(
        this.#mixes.flatMap((mix) => {
          const part = blend === "one" ? share : mix.name === name ? 1 : 0;
          return part > 0 ? [[mix.name, part * mix.heapKg]] : [];
        }),
      ),
      ...defined({ placement }),
    }));
  }

  #readToBuy(): ToBuy[] {
    return this.file
      .at("to_buy")
      .items("a list of what to buy")
      .flatMap((at): ToBuy[] => {
        const read = at.read(schema.toBuySchema());
        if (read === undefined) return [];
        const [bought, other] = Object.entries(read.others);
        const hint = "write one material a line: `{feather-meal: 1 x 50 lb, supplier: mill, price: 43.50}`";
        if (bought === undefined) return at.refuse("key-missing", "this buys nothing", hint) ?? [];
        if (other) return at.refuse("key-unknown", `\`${other[0]}\` is one material too many`, hint) ?? [];
        const [id, amount] = bought;
        if (!isDefined(at.at(id), id, this.around.shelf, "key")) return [];
        const packs = this.#packsOf(at.at(id), id, amount);
        return packs ? [{ id, text: amount.text, ...packs, ...read.known }] : [];
      });
  }

  #packsOf(at: Cursor, id: string, { count, size }: schema.BoughtAmount) {
    const sizeKg = this.#kgOf(at, id, size);
    return sizeKg === undefined ? undefined : { count, sizeKg };
  }

  /** kg of an amount of a material or of a mix; undefined where a density is missing (reported). */
  #kgOf(at: Cursor, name: string, { kind, value }: schema.BoughtAmount["size"]): number | undefined {
    if (kind === "kg") return value;
    const mix = this.#mixes.find((one) => one.name === name);
    const parts = mix ? Object.entries(mix.kg) : [[name, 1] as const];
    let volume = 0;
    for (const [id, kg] of parts) {
      const density = this.around.materials.get(id)?.densityKgPerL;
      if (density === undefined)
        return at.refuse(
          "density-missing",
          `a volume of \`${name}\`, and \`${id}\` has no density`,
          "give a weight, or add `density` to the amendment, for instance `density: 0.6 kg/L`",
        );
      volume += kg / density;
    }
    return (value * (mix?.heapKg ?? 1)) / volume;
  }

  /** kg of an amount of a mix or a material for a bed; undefined where it cannot be told (reported). */
  #amountOf(
    at: Cursor,
    name: string,
    { kind, value, perPlant }: schema.SpreadAmount,
    plan: Plan,
  ): number | undefined {
    const mix = this.#mixes.find((one) => one.name === name);
    if (mix === undefined && !this.#isKnown(at, name)) return undefined;
    if (kind === "batches") {
      if (mix) return (value * mix.heapKg) / mix.batches;
      return at.refuse(
        "unit-kind",
        `\`${name}\` is a material, and only a mix is made in batches`,
        "give a weight, for instance `6 lb`",
      );
    }
    const kg = this.#kgOf(at, name, { kind, value });
    if (kg === undefined || !perPlant) return kg;
    const { plants } = wholeBed(plan.bed);
    if (plants !== undefined) return kg * plants;
    return at.refuse(
      "bed-missing",
      `an amount for each plant, and the plan does not say how many plants ${plan.name} holds`,
      "add `plants: 240` under `bed`, or give a weight",
    );
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

  /** Amounts of mixes and materials at a place, in kg; what cannot be told is left out (reported). */
  #kgOfAll(at: Cursor, amounts: Readonly<Record<string, schema.SpreadAmount>>, bed: Plan): Kilograms {
    const kg = Object.entries(amounts).map(
      ([name, amount]) => [name, this.#amountOf(at.at(name), name, amount, bed)] as const,
    );
    return Object.fromEntries(kg.filter((one): one is [string, number] => one[1] !== undefined));
  }

  /** The bed that is named; it may be left out where there is one. */
  #bedNamed(at: Cursor, written: string | undefined): Plan | undefined {
    const { beds } = this.around;
    const names = beds.map(({ name }) => name);
    if (written === undefined && beds.length > 1)
      return at.refuse(
        "key-missing",
        "this does not say which bed",
        `add \`bed:\` with one of ${names.join(", ")}`,
      );
    const found = written === undefined ? beds[0] : beds.find(({ name }) => name === written);
    const hint = beds.length === 1 ? `the bed is \`${names[0]}\`` : `the beds are ${names.join(", ")}`;
    return found ?? at.unknown(written!, "is no bed of this season", names, hint);
  }

  #bedsOf(at: Cursor, written: string | readonly string[] | undefined): readonly Plan[] | undefined {
    if (written === undefined) return this.around.beds;
    const names = [written].flat();
    const known = names.flatMap((name, i) => this.#bedNamed(at.at("bed").item(i), name) ?? []);
    return known.length === names.length ? known : undefined;
  }

  #dayAt(at: Cursor): number | undefined {
    const written = at.written();
    const { planted } = this.around;
    if (written === undefined)
      return at.refuse("key-missing", "the day is missing", "add `day: 2027-09-10`, or a day of the season");
    const text = String(written).trim();
    const read = isDate(text) ? { ok: true as const, value: dayOf(at, text, planted) } : parseDay(text);
    if (!read.ok) return at.complain(read);
    const day = read.value;
    if (day === undefined || (day >= -MOST_BEFORE && day <= MOST_AFTER)) return day;
    const away = `${Math.abs(day)} days ${day < 0 ? "before" : "after"} planting (${planted})`;
    return at.complain({ code: "day-outside", given: text, wrong: `is ${away}`, hint: "check the year" });
  }

  #readLog(): LogLine[] {
    const log = this.file.at("log");
    // A season that has just begun has the key and no line below it.
    if (log.written() === null) return [];
    const read = log.items("a list of lines such as `- {day: 2027-08-01, spread: planting}`");
    const lines = read.map((at, i) => this.#readLine(at, i + 1));
    const voided = new Map<number, VoidLine>();
    for (const [i, line] of lines.entries())
      if (line?.kind === "void" && this.#isVoidable(read[i]!, line, lines)) voided.set(line.voids, line);
    const kept = lines.flatMap((line): LogLine[] =>
      line === undefined || line.kind === "void" || voided.has(line.number) ? [] : [line],
    );
    this.#voided = lines.flatMap((line) => {
      const by = line && voided.get(line.number);
      return by ? [{ ...line, ...defined({ because: by.because }) }] : [];
    });
    const { planted, beds } = this.around;
    const around = { planted, beds: beds.length, planned: this.#planned, mixes: this.#mixes };
    this.#warnings.push(...remarksOnLog(kept, around));
    return kept.toSorted((a, b) => a.day - b.day);
  }

  #readLine(at: Cursor, number: number): Line | undefined {
    const { problems } = this.file.loading;
    const before = problems.length;
    const kind = this.#kindOf(at);
    const shape =
      kind === undefined ? schema.lineShape() : { ...schema.LINES[kind](), ...schema.ofAnyLine() };
    const fields: LineFields = at.readMap(shape, A_LINE);
    const day = this.#dayAt(at.at("day"));
    if (day === undefined || kind === undefined || problems.length > before) return undefined;
    const { who } = fields;
    const note = fields.note === undefined ? undefined : [fields.note].flat().join(" ");
    const line = at.tree.position(at.path).place?.line ?? 0;
    const checked = fields.checked === true || undefined;
    const said = (value: unknown): string =>
      typeof value === "object" && value !== null
        ? Object.entries(value)
            .map(([key, one]) => (Array.isArray(value) ? said(one) : `${key}: ${said(one)}`))
            .join(", ")
        : String(value);
    const base = { number, line, text: said(at.written()), day, ...defined({ note, who, checked }) };
    return this.#ofKind(kind, at, fields, base);
  }

  #kindOf(at: Cursor): schema.LineKind | undefined {
    const [kind, other] = schema.LINE_KINDS.filter((key) => at.has(key));
    const kinds = schema.LINE_KINDS.map((key) => `\`${key}\``).join(", ");
    if (kind === undefined)
      return at.refuse("key-missing", "this line does not say what happened", `add one of ${kinds}`);
    if (other === undefined) return kind;
    const wrong = `a line is of one thing, and this one says \`${kind}\` and \`${other}\``;
    return at.refuse("key-conflict", wrong, "write a line for each");
  }

  #ofKind(kind: schema.LineKind, at: Cursor, fields: LineFields, base: LineBase): Line | undefined {
    if (kind === "bought") return this.#bought(at, fields, base);
    if (kind === "left") return { ...base, kind, kg: this.#ofMaterials(at.at("left"), fields.left!) };
    if (kind === "kept") {
      const here = at.at("kept");
      const hint = "what is kept is a mix; materials that are left go under `left`";
      const mixes = Object.entries(fields.kept!).filter(([name]) =>
        this.#isMix(here.at(name), name, this.#mixes, hint),
      );
      const kg = this.#kgOfAll(here, Object.fromEntries(mixes), this.around.beds[0]!);
      return { ...base, kind, kg };
    }
    if (kind === "void") {
      const day = this.#dayAt(at.at("void", "day"));
      const { because } = fields;
      return day === undefined
        ? undefined
        : { ...base, kind, voids: fields.void!.line, voidsDay: day, ...defined({ because }) };
    }
    const plans = this.#bedsOf(at, fields.bed);
    const beds = plans?.map(({ name }) => name);
    if (kind === "soil_nitrate") return this.#nitrate(at, fields, base, beds);
    if (plans === undefined || beds === undefined) return undefined;
    if (kind === "spread") return this.#spread(at, fields, base, plans);
    if (kind === "tissue") return { ...base, kind };
    return { ...base, kind, beds, fallenM: fields[kind]!, ...defined({ evaporationM: fields.evaporation }) };
  }

  #bought(at: Cursor, fields: LineFields, base: LineBase): LogLine | undefined {
    const { bought: id = "", packs, weight, supplier, paid, lot } = fields;
    if (!isDefined(at.at("bought"), id, this.around.shelf)) return undefined;
    if ((packs === undefined) === (weight === undefined))
      return at.complain({
        ...(packs === undefined
          ? { code: "key-missing", wrong: "this does not say how much was bought" }
          : { code: "key-conflict", wrong: "`packs` and `weight` both say how much was bought" }),
        hint: "write `packs: 1 x 50 lb`, or `weight: 12 kg` for what is sold loose",
      });
    const sized = packs && this.#packsOf(at.at("packs"), id, packs);
    const kg = sized ? sized.count * sized.sizeKg : weight;
    if (kg === undefined) return undefined;
    return { ...base, kind: "bought", id, kg, ...defined({ packs: sized, supplier, paid, lot }) };
  }

  #spread(at: Cursor, fields: LineFields, base: LineBase, beds: readonly Plan[]): LogLine | undefined {
    const { part = 1, placement } = fields;
    const given = fields.spread!;
    const lots = this.#ofMaterials(at.at("lots"), fields.lots ?? {});
    const shared = { ...base, kind: "spread", lots } as const;
    if (typeof given === "string") {
      const rounds = this.#planned.filter(({ round }) => round === given);
      if (rounds.length === 0) return this.#roundUnknown(at.at("spread"), given);
      const times = (kg: Kilograms): Kilograms =>
        Object.fromEntries(Object.entries(kg).map(([id, value]) => [id, part * value]));
      const absent = beds.find(({ name }) => !rounds.some(({ bed }) => bed === name));
      if (absent !== undefined && fields.bed !== undefined)
        return at.at("bed").complain({
          code: "application-unknown",
          wrong: `${absent.name} has no round \`${given}\``,
          hint: `only these have one: ${[...new Set(rounds.map(({ bed }) => bed))].join(", ")}`,
        });
      const meant = rounds.filter(({ bed }) => beds.some(({ name }) => name === bed));
      const got = meant.map((round) => ({
        bed: round.bed,
        gives: times(round.gives),
        ...defined({ placement: placement ?? round.placement }),
      }));
      return { ...shared, round: given, beds: got };
    }
    const { round } = fields;
    if (round !== undefined && !this.#planned.some((one) => one.round === round))
      return this.#roundUnknown(at.at("round"), round);
    if (fields.part !== undefined)
      at.at("part").complainOfKey({
        code: "key-conflict",
        wrong: "`part` is of a planned round, and this line gives amounts",
        hint: "leave `part` out",
      });
    if (fields.bed === undefined && this.#bedNamed(at, undefined) === undefined) return undefined;
    const here = at.at("spread");
    const got = beds.map((bed) => ({
      bed: bed.name,
      gives: this.#kgOfAll(here, given, bed),
      ...defined({ placement }),
    }));
    return { ...shared, own: true, beds: got, ...defined({ round }) };
  }

  #roundUnknown(at: Cursor, given: string): undefined {
    const names = [...new Set(this.#planned.map(({ round }) => round))];
    // A round that is planned and cannot be read has been reported.
    if (names.length < this.file.at("planned").each.length) return undefined;
    const material = this.around.shelf.entries.has(given) || this.#mixes.some(({ name }) => name === given);
    return at.complain({
      code: "application-unknown",
      wrong: `no planned round is called \`${given}\``,
      near: material ? undefined : nearest(given, names),
      hint: material
        ? `say how much of it: \`spread: {${given}: 6 lb}\``
        : `the rounds are ${names.map((name) => `\`${name}\``).join(", ")}`,
    });
  }

  #nitrate(
    at: Cursor,
    fields: LineFields,
    base: LineBase,
    beds: readonly string[] | undefined,
  ): LogLine | undefined {
    const { depth: depthM, soil_nitrate: written = 0, as, accuracy, holds } = fields;
    if (depthM === undefined)
      return at.refuse(
        "key-missing",
        "a reading in ppm without the depth of the sample does not say how much nitrogen there is",
        "add `depth: 12 in`",
      );
    if (beds === undefined) return undefined;
    if (as === undefined)
      this.#warnings.push({
        code: "nitrate-as",
        text: `${linesName([base])} does not say whether the reading is NO3-N or NO3: it is taken as NO3-N. NO3 is ${NO3_PER_N} times as much for the same nitrogen; add \`as: NO3-N\` or \`as: NO3\`.`,
      });
    const ppm = as === "NO3" ? written / NO3_PER_N : written;
    return { ...base, kind: "nitrate", beds, depthM, ppm, ...defined({ accuracy, holds }) };
  }

  #isVoidable(
    at: Cursor,
    { number, voids, voidsDay }: VoidLine,
    lines: readonly (Line | undefined)[],
  ): boolean {
    if (voids > lines.length || voids === number) {
      at.at("void", "line").complain({
        code: "number-range",
        given: voids,
        wrong: voids === number ? "is this line itself" : "is no line of the log",
        hint: `count the lines of the log in the file's order: 1 to ${lines.length}`,
      });
      return false;
    }
    const meant = lines[voids - 1];
    if (meant === undefined || meant.day === voidsDay) return meant !== undefined;
    const others = lines.flatMap((one) =>
      one && one.day === voidsDay && one.kind !== "void" ? [one.number] : [],
    );
    const [is, was] = [meant.day, voidsDay].map((day) => dateOfDay(day, this.around.planted));
    at.at("void", "day").complain({
      code: "date-unreadable",
      wrong: `line ${voids} of the log is of ${is}, not of ${was}; nothing is taken back`,
      hint:
        others.length === 0
          ? "count the lines in the file's order and give the day of that line"
          : `of that day ${others.length === 1 ? "is line" : "are lines"} ${others.join(", ")}`,
    });
    return false;
  }
}

/** A line as it is read: one that takes another back is none of the log's. */
type Line = LogLine | VoidLine;
interface VoidLine extends LineBase {
  readonly kind: "void";
  readonly voids: number;
  readonly voidsDay: number;
  readonly because?: string;
}
