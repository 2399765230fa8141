/**
 * Farm files: each bed becomes a plan. What the bed says goes over what its field says, and that over what the farm says;
 * places in messages stay those of the file where each was written.
 */
import { basename } from "node:path";
import type { Amendment, Farm, FarmBedPlan, Plan } from "../model.ts";
import { defined } from "../optional.ts";
import { nearest } from "../problem.ts";
import { Cursor, ofKind, openFile } from "./context.ts";
import { readPlan } from "./plan.ts";
import type { ExtraPrices } from "./plan-prices.ts";
import { BESIDE_A_PLAN, farmBedShape, farmShape, fieldShape, OF_THE_FARM } from "./schema/farm.ts";
import { bedShape, limitSchema } from "./schema/plan.ts";
import { isRecord, type Override, type Path, type Tree, withOverrides } from "./source.ts";

const A_FARM = "a farm: a map with `farm`, `amendments`, `beds` and so on";

/** Keys of a farm that are not those of a plan. */
const FARM_KEYS = ["farm", "most_mixes", "alone", "fields", "beds", "rounds"];

/** What a plan as it stands takes from the farm where it says nothing of it. */
const FOR_PLANS = [...OF_THE_FARM, "only", "require", "sure", "planted"];

/** Where something was written. */
interface Source {
  readonly tree: Tree;
  readonly path: Path;
}

/** A tree put together from others, with the place that each part of it has in its own. */
class Patchwork {
  private readonly root: Record<string, unknown> = Object.create(null) as Record<string, unknown>;
  private readonly sources: { readonly path: Path; readonly from: Source }[] = [];

  /** @param whole where what is missing is missed. */
  constructor(private readonly whole: Source) {}

  set(key: string, value: unknown, from: Source): void {
    this.root[key] = value;
    this.sources.push({ path: [key], from });
  }

  /** Says where a part of what was set is written. */
  place(path: Path, from: Source): void {
    this.sources.push({ path, from });
  }

  has(key: string): boolean {
    return Object.hasOwn(this.root, key);
  }

  tree(): Tree {
    const sourceOf = (wanted: Path): Source & { rest: Path } => {
      let best: { readonly path: Path; readonly from: Source } = { path: [], from: this.whole };
      for (const one of this.sources)
        if (
          one.path.length >= best.path.length &&
          one.path.every((step, i) => String(wanted[i]) === String(step))
        )
          best = one;
      return { ...best.from, rest: wanted.slice(best.path.length) };
    };
    return {
      file: this.whole.tree.file,
      path: this.whole.tree.path,
      root: this.root,
      position: (wanted, at) => {
        const { tree, path, rest } = sourceOf(wanted);
        return tree.position([...path, ...rest], at);
      },
      home: (wanted) => sourceOf(wanted).tree.path,
    };
  }
}

/** A map and where it is. */
interface Layer {
  readonly at: Cursor;
  readonly keys: readonly string[];
}

const sourceOf = ({ tree, path }: Cursor): Source => ({ tree, path });

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
  if (!isRecord(written.tree.root)) {
    written.complainOfType(A_FARM);
    return undefined;
  }
  const ofFarm = ({ path }: Override): boolean => FARM_KEYS.includes(String(path[0]));
  const file = new Cursor(loading, withOverrides(written.tree, overrides.filter(ofFarm)));
  const above = overrides.filter((one) => !ofFarm(one));
  const planKeys = Object.keys(fieldShape());
  const shared = [...OF_THE_FARM, ...planKeys];
  const own = file.readMap(farmShape(), A_FARM, [...shared, "fields", "beds"]);
  const {
    most_mixes: mostMixes,
    alone = 0,
    farm,
  } = own as {
    most_mixes?: number;
    alone?: number;
    farm?: string;
  };
  if (alone !== 0)
    file.at("alone").complain({
      code: "choice-unknown",
      given: alone,
      wrong: "is not worked out by this version",
      hint: "leave `alone` out: each bed gets its mix and nothing else",
    });
  const fields = readFields(file);
  const beds: FarmBedPlan[] = [];
  const names = new Set<string>();
  const list = file.at("beds");
  const items = list.items(
    "a list of beds such as `- {bed: tomatoes east, recipe: tomato, area: 3000 sq ft}`",
  );
  if (items.length === 0 && (list.isList || !list.has()))
    (list.isList ? list : file).complain({
      code: "key-missing",
      wrong: "the farm has no bed",
      hint: "add `beds:` with `- {bed: tomatoes east, recipe: tomato, area: 3000 sq ft}`",
    });
  const all = layerOf(file, shared);
  for (const item of items) {
    const read = readBed(item, { file, all, fields, above, extraAmendments, extraPrices });
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

/** The farm's fields by name, each checked for keys that mean nothing. */
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
  if (!isRecord(item.written())) {
    item.complainOfType("a bed such as `{bed: tomatoes east, recipe: tomato, area: 3000 sq ft}`");
    return undefined;
  }
  const planKeys = Object.keys(fieldShape());
  const own = item.readMap(farmBedShape(), "a bed", [...planKeys, ...Object.keys(bedShape())]) as {
    bed?: string;
    plan?: string;
    field?: string;
    mix?: string;
  };
  if (!item.has("bed"))
    item.complain({ code: "key-missing", wrong: "this bed has no name", hint: "add `bed: tomatoes east`" });
  const field = own.field === undefined ? undefined : around.fields.get(own.field);
  if (own.field !== undefined && field === undefined)
    item.at("field").complain({
      code: "choice-unknown",
      given: own.field,
      wrong: "is not among the farm's `fields`",
      near: nearest(own.field, [...around.fields.keys()]),
      hint:
        around.fields.size === 0
          ? "add `fields:` with what is the same for its beds"
          : `there are ${[...around.fields.keys()].map((name) => `\`${name}\``).join(", ")}`,
    });
  if (own.bed === undefined) return undefined;
  const name = own.bed;
  const file = item.has("plan") ? planAsItIs(item, name, around) : patchedPlan(item, name, around, field);
  const plan = file && planOf(file, around);
  return { name, ...defined({ mix: own.mix, plan }) };
}

/** The plan of a bed from what was put together of it; warnings of the one are not those of the next. */
function planOf(
  { loading, tree }: Cursor,
  { above, extraAmendments, extraPrices }: Around,
): Plan | undefined {
  return readPlan(new Cursor({ ...loading, warnings: [] }, tree), above, extraAmendments, extraPrices);
}

/** A bed's plan from its own fields, those of its field and those of the farm. */
function patchedPlan(item: Cursor, name: string, { file, all }: Around, field: Layer | undefined): Cursor {
  const keys = Object.keys(fieldShape());
  const bed = layerOf(item, keys);
  const layers = [all, ...(field ? [field] : []), bed];
  const patch = new Patchwork(sourceOf(item));
  patch.set("plan", name, sourceOf(item.at("bed")));
  const measures = layerOf(item, Object.keys(bedShape())).keys;
  patch.set(
    "bed",
    Object.assign(
      Object.create(null) as object,
      Object.fromEntries(measures.map((key) => [key, item.written(key)])),
    ),
    sourceOf(item),
  );
  // A target of the bed's own takes the place of a recipe said for more, and rounds of applications.
  const instead: Readonly<Record<string, string>> = {
    target: "recipe",
    recipe: "target",
    rounds: "applications",
    applications: "rounds",
  };
  const from = new Map<string, Cursor>();
  for (const { at, keys: written } of layers)
    for (const key of written) {
      const other = instead[key];
      if (other !== undefined && !written.includes(other)) from.delete(other);
      from.set(key, at.at(key));
    }
  for (const [key, at] of from) {
    if (key === "rounds") addRounds(patch, at, from.has("applications"));
    else if (key === "credits") addCredits(patch, layers);
    else if (key === "limits") addLimits(patch, layers, file);
    else patch.set(key, at.written(), sourceOf(at));
  }
  return new Cursor(item.loading, patch.tree());
}

/** `rounds: [0, 28]`: applications of the same size. */
function addRounds(patch: Patchwork, at: Cursor, both: boolean): void {
  const days = at.written();
  if (!Array.isArray(days) || days.length === 0) {
    at.complainOfType("a list of days such as `[0, 28, 56]`");
    return;
  }
  if (both) {
    at.complainOfKey({
      code: "key-conflict",
      wrong: "this bed has both `rounds` and `applications`",
      hint: "keep one of the two",
    });
    return;
  }
  const rounds = days.map((day: unknown, i) =>
    Object.assign(Object.create(null) as object, { name: `round ${i + 1}`, day }),
  );
  patch.set("applications", rounds, sourceOf(at));
  days.forEach((_, i) => {
    patch.place(["applications", i], sourceOf(at.at(i)));
    patch.place(["applications", i, "day"], sourceOf(at.at(i)));
  });
}

/** Credits add up: of the farm, of the field, of the bed. */
function addCredits(patch: Patchwork, layers: readonly Layer[]): void {
  const lists = layers.filter(({ keys }) => keys.includes("credits")).map(({ at }) => at.at("credits"));
  const last = lists.at(-1)!;
  const broken = lists.find((list) => list.has() && list.written() !== null && !list.isList);
  if (broken) {
    patch.set("credits", broken.written(), sourceOf(broken));
    return;
  }
  const each = lists.flatMap((list) => (list.isList ? list.each : []));
  patch.set(
    "credits",
    each.map((one) => one.written()),
    sourceOf(last),
  );
  each.forEach((one, i) => {
    patch.place(["credits", i], sourceOf(one));
  });
}

/** Limits of all, the bed's over its field's; weights in the farm's are of the whole heap and not for one bed. */
function addLimits(patch: Patchwork, layers: readonly Layer[], file: Cursor): void {
  const maps = layers.filter(({ keys }) => keys.includes("limits")).map(({ at }) => at.at("limits"));
  const broken = maps.find((map) => map.written() !== null && !isRecord(map.written()));
  if (broken) {
    patch.set("limits", broken.written(), sourceOf(broken));
    return;
  }
  const from = new Map<string, Cursor>();
  for (const map of maps) for (const id of map.keys("a map")) from.set(id, map.at(id));
  const values = [...from].map(([id, at]): [string, unknown] => {
    const value = at.written();
    if (at.tree !== file.tree || at.path.length > 2 || !isRecord(value)) return [id, value];
    const kept = Object.entries(value).filter(([key]) => key !== "min" && key !== "max");
    return [id, Object.assign(Object.create(null) as object, Object.fromEntries(kept))];
  });
  patch.set(
    "limits",
    Object.assign(Object.create(null) as object, Object.fromEntries(values)),
    sourceOf(maps.at(-1)!),
  );
  for (const [id, at] of from) patch.place(["limits", id], sourceOf(at));
}

/** The weights among the farm's limits. */
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
function planAsItIs(
  item: Cursor,
  name: string,
  { file, all, above, extraAmendments }: Around,
): Cursor | undefined {
  const written = item.written();
  for (const key of isRecord(written) ? Object.keys(written) : [])
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
  const patch = new Patchwork(sourceOf(opened));
  for (const key of all.keys)
    if (FOR_PLANS.includes(key)) patch.set(key, file.written(key), sourceOf(file.at(key)));
  for (const key of Object.keys(opened.tree.root))
    if (!OF_THE_FARM.some((one) => one === key) || !file.has(key))
      patch.set(key, opened.written(key), sourceOf(opened.at(key)));
  patch.set("plan", name, sourceOf(item.at("bed")));
  const own = OF_THE_FARM.filter((key) => opened.has(key) && file.has(key));
  if (own.length > 0) checkAgreement(opened, patch, own, { above, extraAmendments });
  return new Cursor(item.loading, patch.tree());
}

/** Refuses what a plan says otherwise than the farm that it is a bed of. What is wrong with either is said when it is read. */
function checkAgreement(
  opened: Cursor,
  patch: Patchwork,
  own: readonly (typeof OF_THE_FARM)[number][],
  { above, extraAmendments }: Pick<Around, "above" | "extraAmendments">,
): void {
  const { loading } = opened;
  const read = (cursor: Cursor): Plan | undefined =>
    readPlan(new Cursor({ ...loading, problems: [], warnings: [] }, cursor.tree), above, extraAmendments);
  const farms = read(new Cursor(loading, patch.tree()));
  const alone = read(opened);
  if (farms === undefined || alone === undefined) return;
  const differ = (key: (typeof own)[number], given: string, hint: string): void => {
    if (own.includes(key))
      opened.at(key).complainOfKey({ code: "key-conflict", wrong: `${given} than the farm's`, hint });
  };
  if (alone.currency !== farms.currency)
    differ("currency", `\`currency: ${alone.currency}\` is another`, `the farm counts in ${farms.currency}`);
  const byId = new Map(farms.amendments.map((amendment) => [amendment.id, amendment]));
  const other = alone.amendments.find((one) => !isSame(one, byId.get(one.id)));
  if (other)
    differ(
      "amendments",
      `\`${other.id}\` has another analysis, stock or price here`,
      "take `amendments` out of the plan: the farm's shed is one",
    );
  if (JSON.stringify(alone.suppliers) !== JSON.stringify(farms.suppliers))
    differ("suppliers", "what suppliers charge is said otherwise", "take `suppliers` out of the plan");
  if (JSON.stringify(alone.batch) !== JSON.stringify(farms.batch))
    differ("batch", "the batch is another", "take `batch` out of the plan: mixes are stirred for the farm");
  if (alone.scaleKg !== farms.scaleKg)
    differ("scale", "the scale is another", "take `scale` out of the plan: mixes are stirred for the farm");
}

function isSame(one: Amendment, farms: Amendment | undefined): boolean {
  const about = ({ analysis, packs, bulkPricePerKg, stockKg, supplier }: Amendment): string =>
    JSON.stringify([Object.entries(analysis).sort(), packs, bulkPricePerKg, stockKg, supplier]);
  return farms !== undefined && about(one) === about(farms);
}

/** A pin is to one of the mixes that there are. */
function checkMix(item: Cursor, mix: string | undefined, most: number | undefined): void {
  if (mix === undefined || most === undefined) return;
  const place = mix.charCodeAt(0) - "A".charCodeAt(0);
  const last = String.fromCharCode("A".charCodeAt(0) + Math.min(most, 26) - 1);
  if (place >= most)
    item.at("mix").complain({
      code: "choice-unknown",
      given: mix,
      wrong: `is not among the ${most === 1 ? "one mix" : `${most} mixes`} of \`most_mixes\``,
      hint: most === 1 ? "there is `A` alone" : `they are \`A\` to \`${last}\``,
    });
}

/** What makes a mix of its own cannot be in a bed that shares one. */
function checkSharing(items: readonly Cursor[], beds: readonly FarmBedPlan[], most = Infinity): void {
  for (const { name, plan, mix } of beds) {
    const pinned = mix !== undefined && beds.filter((bed) => bed.mix === mix).length > 1;
    if (most >= beds.length && !pinned) continue;
    const item = items.find((one) => one.written("bed") === name);
    const why = pinned ? `\`mix: ${mix}\` is for several beds` : `\`most_mixes: ${most}\` lets beds share`;
    const own = { code: "key-conflict", hint: "take it out, or let each bed have its own mix" } as const;
    if (plan.blend === "each")
      item?.at("blend").complainOfKey({
        ...own,
        wrong: `this bed has \`blend: each\`, a mix for every round, and ${why}: a mix that beds share is one for all rounds`,
      });
    if (plan.simple)
      item?.at("simple").complainOfKey({
        ...own,
        wrong: `this bed has \`simple\`, and ${why}: how few materials a mix has is not one bed's to say`,
      });
  }
}
