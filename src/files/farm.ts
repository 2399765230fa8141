/**
 * Farm files: each bed becomes a plan. What the bed says goes over what its field says, and that over what the farm says;
 * places in messages stay those of the file where each was written.
 */
import { basename } from "node:path";
import type { Amendment, Farm, FarmBedPlan, Plan } from "../model.ts";
import { defined } from "../optional.ts";
import { Cursor, ofKind, openFile } from "./context.ts";
import { readPlan } from "./plan.ts";
import type { ExtraPrices } from "./plan-prices.ts";
import { BESIDE_A_PLAN, farmBedShape, farmShape, fieldShape, OF_THE_FARM } from "./schema/farm.ts";
import { bedShape, limitSchema } from "./schema/plan.ts";
import { isRecord, type Override, type Patch, treeAt, withOverrides } from "./source.ts";

const A_FARM = "a farm: a map with `farm`, `amendments`, `beds` and so on";

const FARM_KEYS = ["farm", "most_mixes", "alone", "fields", "beds", "rounds"];

/** What a plan as it stands takes from the farm where it says nothing of it. */
const FOR_PLANS = [...OF_THE_FARM, "only", "require", "sure", "planted"];

const isOfTheFarm = (key: string): boolean => OF_THE_FARM.some((one) => one === key);

interface Layer {
  readonly at: Cursor;
  readonly keys: readonly string[];
}

const layerOf = (at: Cursor, keys: readonly string[]): Layer => {
  const written = at.written();
  return { at, keys: isRecord(written) ? Object.keys(written).filter((key) => keys.includes(key)) : [] };
};

/**
 * Reads a farm.
 * @param overrides those of the farm's own keys are laid over the file, all others over the plan of each bed.
 * @returns the farm, or undefined where something is wrong with it (reported).
 */
export function readFarm(
  written: Cursor,
  overrides: readonly Override[],
  extraAmendments: readonly string[],
  extraPrices: readonly ExtraPrices[] = [],
): Farm | undefined {
  const { loading } = written;
  if (!isRecord(written.tree.root)) return written.complainOfType(A_FARM);
  const ofFarm = ({ path }: Override): boolean => FARM_KEYS.includes(String(path[0]));
  const file = new Cursor(loading, withOverrides(written.tree, overrides.filter(ofFarm)));
  const above = overrides.filter((one) => !ofFarm(one));
  const shared = [...OF_THE_FARM, ...Object.keys(fieldShape())];
  const own = file.readMap(farmShape(), A_FARM, [...shared, "fields", "beds"]);
  const { most_mixes: mostMixes, alone = 0, farm } = own;
  const around = {
    file,
    all: layerOf(file, shared),
    fields: readFields(file),
    above,
    extraAmendments,
    extraPrices,
  };
  const items = bedsOf(file);
  const beds: FarmBedPlan[] = [];
  const names = new Set<string>();
  for (const item of items) {
    const read = readBed(item, around);
    if (read === undefined) continue;
    if (names.has(read.name))
      item.at("bed").complain({
        code: "name-twice",
        wrong: `two beds are called \`${read.name}\``,
        hint: "give each its own name, or write `beds_alike: 2` where they are alike",
      });
    names.add(read.name);
    checkMix(item, read.mix, mostMixes);
    if (read.plan) beds.push({ name: read.name, plan: read.plan, ...defined({ mix: read.mix }) });
  }
  checkSharing(items, beds, mostMixes);
  const heap = readHeap(file);
  if (loading.problems.length > 0) return undefined;
  return {
    name: farm ?? basename(written.tree.path).replace(/\.ya?ml$/i, ""),
    beds,
    ...defined({ mostMixes }),
    alone: alone as 0 | 1,
    heap,
    warnings: [...loading.warnings],
  };
}

function bedsOf(file: Cursor): Cursor[] {
  const list = file.at("beds");
  const example = "`- {bed: tomatoes east, recipe: tomato, area: 3000 sq ft}`";
  const items = list.items(`a list of beds such as ${example}`);
  if (items.length === 0 && (list.isList || !list.has()))
    (list.isList ? list : file).refuse("key-missing", "the farm has no bed", `add \`beds:\` with ${example}`);
  return items;
}

function readFields(file: Cursor): ReadonlyMap<string, Layer> {
  const fields = file.at("fields");
  const keys = Object.keys(fieldShape());
  return new Map(
    fields.keys("a map such as `top field: {soil_temperature: 19 C}`").map((name) => {
      const at = fields.at(name);
      at.readMap(fieldShape(), "a map such as `{soil_temperature: 19 C}`", keys);
      return [name, layerOf(at, keys)];
    }),
  );
}

interface Around {
  readonly file: Cursor;
  readonly all: Layer;
  readonly fields: ReadonlyMap<string, Layer>;
  readonly above: readonly Override[];
  readonly extraAmendments: readonly string[];
  readonly extraPrices: readonly ExtraPrices[];
}

/** A bed with its plan; the plan is undefined where something is wrong with it (reported). */
function readBed(
  item: Cursor,
  around: Around,
): { readonly name: string; readonly mix?: string; readonly plan?: Plan } | undefined {
  if (!isRecord(item.written()))
    return item.complainOfType("a bed such as `{bed: tomatoes east, recipe: tomato, area: 3000 sq ft}`");
  const skip = [...Object.keys(fieldShape()), ...Object.keys(bedShape())];
  const { bed: name, field: called, mix } = item.readMap(farmBedShape(), "a bed", skip);
  if (!item.has("bed")) item.refuse("key-missing", "this bed has no name", "add `bed: tomatoes east`");
  const field = called === undefined ? undefined : around.fields.get(called);
  const names = [...around.fields.keys()];
  if (called !== undefined && field === undefined)
    item
      .at("field")
      .unknown(
        called,
        "is not among the farm's `fields`",
        names,
        names.length === 0
          ? "add `fields:` with what is the same for its beds"
          : `there are ${names.map((one) => `\`${one}\``).join(", ")}`,
      );
  if (name === undefined) return undefined;
  const file = item.has("plan") ? planAsItIs(item, name, around) : patchedPlan(item, name, around, field);
  const plan = file && planOf(file, around);
  return { name, ...defined({ mix, plan }) };
}

/** The plan of a bed from what was put together of it; warnings of the one are not those of the next. */
function planOf({ loading, tree }: Cursor, around: Around): Plan | undefined {
  const { above, extraAmendments, extraPrices } = around;
  return readPlan(new Cursor({ ...loading, warnings: [] }, tree), above, extraAmendments, extraPrices);
}

/** What takes the place of what is said for more: a target of a recipe, rounds of applications. */
const INSTEAD: Readonly<Record<string, string>> = {
  target: "recipe",
  recipe: "target",
  rounds: "applications",
  applications: "rounds",
};

function patchedPlan(item: Cursor, name: string, { file, all }: Around, field: Layer | undefined): Cursor {
  const layers = [all, ...(field ? [field] : []), layerOf(item, Object.keys(fieldShape()))];
  const from = new Map<string, Cursor>();
  for (const { at, keys } of layers)
    for (const key of keys) {
      const other = INSTEAD[key];
      if (other !== undefined && !keys.includes(other)) from.delete(other);
      from.set(key, at.at(key));
    }
  const measures = layerOf(item, Object.keys(bedShape())).keys.map((key) => [key, item.written(key)]);
  const patches = [...from].flatMap(([key, at]): readonly Patch[] => {
    if (key === "rounds") return ofRounds(at, from.has("applications"));
    if (key === "credits") return ofCredits(layers);
    return key === "limits" ? ofLimits(layers, file) : [laid([key], at)];
  });
  return new Cursor(
    item.loading,
    withOverrides(treeAt(item, {}), [
      laid(["plan"], item.at("bed"), name),
      laid(["bed"], item, Object.fromEntries(measures)),
      ...patches,
    ]),
  );
}

const laid = (path: Patch["path"], from: Cursor, value = from.written()): Patch => ({ path, value, from });

/** `rounds: [0, 28]`: applications of the same size. */
function ofRounds(at: Cursor, both: boolean): readonly Patch[] {
  const days = at.written();
  if (!Array.isArray(days) || days.length === 0)
    return at.complainOfType("a list of days such as `[0, 28, 56]`") ?? [];
  if (both)
    return (
      at.refuseKey("key-conflict", "this bed has both `rounds` and `applications`", "keep one of the two") ??
      []
    );
  return [
    laid(["applications"], at, []),
    ...at.each.flatMap((day, i) => [
      laid(["applications", i], day, { name: `round ${i + 1}` }),
      laid(["applications", i, "day"], day),
    ]),
  ];
}

const saidAt = (layers: readonly Layer[], key: string): Cursor[] =>
  layers.filter(({ keys }) => keys.includes(key)).map(({ at }) => at.at(key));

/** Credits add up: of the farm, of the field, of the bed. */
function ofCredits(layers: readonly Layer[]): readonly Patch[] {
  const lists = saidAt(layers, "credits");
  const broken = lists.find((list) => list.has() && list.written() !== null && !list.isList);
  if (broken) return [laid(["credits"], broken)];
  const each = lists.flatMap((list) => (list.isList ? list.each : []));
  return [laid(["credits"], lists.at(-1)!, []), ...each.map((one, i) => laid(["credits", i], one))];
}

/** Limits of all, the bed's over its field's; weights in the farm's are of the whole heap and not for one bed. */
function ofLimits(layers: readonly Layer[], file: Cursor): readonly Patch[] {
  const maps = saidAt(layers, "limits");
  const broken = maps.find((map) => map.written() !== null && !isRecord(map.written()));
  if (broken) return [laid(["limits"], broken)];
  const from = new Map<string, Cursor>();
  for (const map of maps) for (const id of map.keys("a map")) from.set(id, map.at(id));
  const each = [...from].map(([id, at]): Patch => {
    const value = at.written();
    if (at.tree !== file.tree || at.path.length > 2 || !isRecord(value)) return laid(["limits", id], at);
    const kept = Object.entries(value).filter(([key]) => key !== "min" && key !== "max");
    return laid(["limits", id], at, Object.fromEntries(kept));
  });
  return [laid(["limits"], maps.at(-1)!, {}), ...each];
}

function readHeap(file: Cursor): Farm["heap"] {
  const limits = file.at("limits");
  if (!isRecord(limits.written())) return [];
  return limits.keys("a map").flatMap((id) => {
    const one = limits.at(id).read(limitSchema());
    if (one === undefined || (one.min === undefined && one.max === undefined)) return [];
    return [{ id, ...defined({ minKg: one.min, maxKg: one.max }) }];
  });
}

/** A bed that is a plan as it stands: what it says of money, amendments, batch and scale must be what the farm says. */
function planAsItIs(item: Cursor, name: string, around: Around): Cursor | undefined {
  const { file, all } = around;
  for (const key of item.keys("a bed"))
    if (!(BESIDE_A_PLAN as readonly string[]).includes(key) && Object.hasOwn(farmBedShape(), key))
      item.at(key).complainOfKey({
        code: "key-conflict",
        wrong: `\`${key}\` is said beside \`plan\`, which is taken as it stands`,
        hint: "write it into the plan, or take `plan` out",
      });
  const asked = item.at("plan");
  const path = asked.written();
  if (typeof path !== "string") return undefined;
  const opened = ofKind(openFile(item.loading, asked.resolve(path.trim()), asked), "plan", asked);
  if (opened === undefined || !isRecord(opened.tree.root)) return undefined;
  if (opened.has("prices"))
    opened.at("prices").complainOfKey({
      code: "key-conflict",
      wrong: "this plan has prices of its own, and is a bed of a farm",
      hint: `prices are the farm's: write them into ${file.tree.file}`,
    });
  const shared = all.keys.filter((key) => FOR_PLANS.includes(key) && (isOfTheFarm(key) || !opened.has(key)));
  const patches = [...shared.map((key) => laid([key], file.at(key))), laid(["plan"], item.at("bed"), name)];
  const plan = new Cursor(item.loading, withOverrides(opened.tree, patches));
  if (OF_THE_FARM.some((key) => opened.has(key) && file.has(key))) checkAgreement(opened, plan, around);
  return plan;
}

/** Refuses what a plan says otherwise than the farm that it is a bed of. What is wrong with either is said when it is read. */
function checkAgreement(opened: Cursor, plan: Cursor, { file, above, extraAmendments }: Around): void {
  const read = ({ loading, tree }: Cursor): Plan | undefined =>
    readPlan(new Cursor({ ...loading, problems: [], warnings: [] }, tree), above, extraAmendments);
  const [farms, alone] = [read(plan), read(opened)];
  if (farms === undefined || alone === undefined) return;
  const differ = (key: keyof Plan & string, given: string, hint: string, at = key as string): void => {
    if (opened.has(at) && file.has(at) && JSON.stringify(alone[key]) !== JSON.stringify(farms[key]))
      opened.at(at).refuseKey("key-conflict", `${given} than the farm's`, hint);
  };
  const ofMixes = (what: string): string =>
    `take \`${what}\` out of the plan: mixes are stirred for the farm`;
  differ("currency", `\`currency: ${alone.currency}\` is another`, `the farm counts in ${farms.currency}`);
  differ("suppliers", "what suppliers charge is said otherwise", "take `suppliers` out of the plan");
  differ("batch", "the batch is another", ofMixes("batch"));
  differ("scaleKg", "the scale is another", ofMixes("scale"), "scale");
  const byId = new Map(farms.amendments.map((amendment) => [amendment.id, amendment]));
  const other = alone.amendments.find((one) => !isSame(one, byId.get(one.id)));
  if (other && opened.has("amendments") && file.has("amendments"))
    opened.at("amendments").complainOfKey({
      code: "key-conflict",
      wrong: `\`${other.id}\` has another analysis, stock or price here than the farm's`,
      hint: "take `amendments` out of the plan: the farm's shed is one",
    });
}

function isSame(one: Amendment, farms: Amendment | undefined): boolean {
  const about = ({ analysis, packs, bulkPricePerKg, stockKg, supplier }: Amendment): string =>
    JSON.stringify([Object.entries(analysis).sort(), packs, bulkPricePerKg, stockKg, supplier]);
  return farms !== undefined && about(one) === about(farms);
}

/** A pin is to one of the mixes that there are. */
function checkMix(item: Cursor, mix: string | undefined, most: number | undefined): void {
  if (mix === undefined || most === undefined) return;
  const letters = Array.from({ length: Math.min(most, 26) }, (_, i) => String.fromCharCode(65 + i));
  if (letters.includes(mix)) return;
  const [those, hint] =
    most === 1
      ? ["one mix", "there is `A` alone"]
      : [`${most} mixes`, `they are \`A\` to \`${letters.at(-1)}\``];
  item.at("mix").complain({
    code: "choice-unknown",
    given: mix,
    wrong: `is not among the ${those} of \`most_mixes\``,
    hint,
  });
}

/** What makes a mix of its own cannot be in a bed that shares one. */
function checkSharing(items: readonly Cursor[], beds: readonly FarmBedPlan[], most = Infinity): void {
  for (const { name, plan, mix } of beds) {
    const pinned = mix !== undefined && beds.filter((bed) => bed.mix === mix).length > 1;
    if (most >= beds.length && !pinned) continue;
    const why = pinned ? `\`mix: ${mix}\` is for several beds` : `\`most_mixes: ${most}\` lets beds share`;
    const refuse = (key: string, what: string, since: string): undefined =>
      items
        .find((one) => one.written("bed") === name)
        ?.at(key)
        .refuseKey(
          "key-conflict",
          `this bed has ${what}, and ${why}: ${since}`,
          "take it out, or let each bed have its own mix",
        );
    if (plan.blend === "each")
      refuse("blend", "`blend: each`, a mix for every round", "a mix that beds share is one for all rounds");
    if (plan.simple) refuse("simple", "`simple`", "how few materials a mix has is not one bed's to say");
  }
}
