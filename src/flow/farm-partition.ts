/**
 * Which beds share a mix, by weight: k mixes for a set of beds, by branch and bound.
 *
 * One mix for two sets together costs at least what one for each does, since the mix of both feeds either. So a node, in
 * which some beds have been given to groups, costs at least what its groups do and what each other bed does by itself; and a
 * bed that has to join one of the groups adds the least that it adds to any.
 */
import type { MixValues, Value } from "./farm-value.ts";

/** Beds by group; each in one. */
export type Partition = readonly (readonly number[])[];

export interface PartitionAnswer {
  /** Null where none was found. */
  readonly groups: Partition | null;
  readonly cost: number;
  /** No division into so many groups costs less; Infinity where none feeds all. */
  readonly bound: number;
  readonly nodes: number;
}

export interface PartitionAsked {
  readonly most: number;
  /** Beds that must be together, each list in a group of its own: pinned mixes. */
  readonly pinned?: Partition;
  /** Share of the cost that may stay between cost and bound. */
  readonly gap?: number;
  /** Ends the search where it returns true. */
  readonly stop?: () => boolean;
}

interface Node {
  readonly groups: Partition;
  readonly bound: number;
}

/** Values while searching may be off by so much; what is chosen is valued exactly. */
const LOOSE = 1e-4;
const EXACT = 1e-9;
/** Differences of cost below this share are none. */
const SAME = 1e-9;
const MOST_NODES = 200_000;

/** Divides beds into at most so many groups of one mix each. */
export class Partitioner {
  private readonly known = new Map<string, Value & { readonly exact: boolean }>();
  private readonly all: readonly number[];

  constructor(readonly values: MixValues) {
    this.all = values.beds.map((_, b) => b);
  }

  /** One mix for a group. */
  value(group: readonly number[], exact = false): Value {
    const key = [...group].sort((a, b) => a - b).join();
    const known = this.known.get(key);
    if (known && (known.exact || !exact)) return known;
    const value = this.values.value(group, { gap: exact ? EXACT : LOOSE });
    this.known.set(key, { ...value, exact });
    return value;
  }

  /** The cheapest division, as far as the search comes. */
  solve({ most, pinned = [], gap = SAME, stop = () => false }: PartitionAsked): PartitionAnswer {
    let best: { groups: Partition; cost: number } | null = null;
    const take = (groups: Partition): void => {
      const cost = this.costOf(groups, best?.cost ?? Infinity);
      if (cost < (best?.cost ?? Infinity) * (1 - SAME)) best = { groups, cost };
    };
    for (const start of this.starts(most, pinned)) {
      if (stop()) break;
      take(this.improved(start, pinned, stop));
    }
    const open: Node[] = [{ groups: pinned, bound: this.boundOf(pinned) }];
    let nodes = 0;
    let closed = Infinity;
    const cutoff = (): number => (best ? best.cost * (1 - gap) : Infinity);
    while (open.length > 0) {
      if (nodes >= MOST_NODES || stop()) break;
      let at = 0;
      for (let k = 1; k < open.length; k++) if (open[k]!.bound < open[at]!.bound) at = k;
      let node: Node | undefined = open.splice(at, 1)[0]!;
      // A plunge: the best child at once, the others wait.
      while (node && node.bound < cutoff()) {
        nodes++;
        const children = this.children(node, most);
        if (children === null) {
          take(node.groups);
          const cost = this.costOf(node.groups, Infinity);
          closed = Math.min(closed, cost);
          break;
        }
        children.sort((a, b) => a.bound - b.bound);
        node = children.shift();
        for (const child of children) if (child.bound < cutoff()) open.push(child);
        if (nodes >= MOST_NODES || stop()) {
          if (node) open.push(node);
          break;
        }
      }
    }
    const found = best as { groups: Partition; cost: number } | null;
    const left = open.reduce((least, node) => Math.min(least, node.bound), Infinity);
    const bound = Math.min(left, found ? found.cost * (1 - gap) : Infinity, closed);
    return { groups: found?.groups ?? null, cost: found?.cost ?? Infinity, bound, nodes };
  }

  private costOf(groups: Partition, cutoff: number): number {
    let sum = 0;
    for (const group of groups) {
      sum += this.value(group).bound;
      if (sum >= cutoff) return Infinity;
    }
    return groups.reduce((total, group) => total + this.value(group, true).cost, 0);
  }

  private ownOf(b: number): number {
    return this.values.beds[b]!.own;
  }

  private boundOf(groups: Partition): number {
    const placed = new Set(groups.flat());
    const grouped = groups.reduce((sum, group) => sum + this.value(group).bound, 0);
    return this.all.reduce((sum, b) => sum + (placed.has(b) ? 0 : this.ownOf(b)), grouped);
  }

  /** A node for each group that the bed which suits none may join; null where all beds have one. */
  private children({ groups }: Node, most: number): Node[] | null {
    const placed = new Set(groups.flat());
    const free = this.all.filter((b) => !placed.has(b));
    if (free.length === 0) return null;
    const mixes = groups.map((group) => this.value(group).mix);
    let [worst, misfit] = [free[0]!, -1];
    for (const b of free) {
      const extra = mixes.reduce(
        (least, mix) => Math.min(least, this.values.costOf(b, mix) - this.ownOf(b)),
        Infinity,
      );
      const score = extra === Infinity ? 1e9 + this.ownOf(b) : extra;
      if (score > misfit) [worst, misfit] = [b, score];
    }
    const children = groups.map((group, g) => groups.map((one, h) => (h === g ? [...group, worst] : one)));
    if (groups.length < most) children.push([...groups, [worst]]);
    return children.map((next) => ({ groups: next, bound: this.boundOf(next) }));
  }

  /** Divisions to begin from: beds that suit each other worst, each with the beds that its mix suits best. */
  private starts(most: number, pinned: Partition): Partition[] {
    const starts: Partition[] = [];
    const mixOf = (b: number): readonly number[] => this.value([b]).mix;
    const firsts = [...this.all].sort((a, b) => this.ownOf(b) - this.ownOf(a)).slice(0, 6);
    for (const first of firsts) {
      const seeds: number[] = pinned.length > 0 ? [] : [first];
      const mixes = [...pinned.map((group) => this.value(group).mix), ...seeds.map(mixOf)];
      while (mixes.length < most) {
        const extra = (b: number): number =>
          Math.min(...mixes.map((mix) => this.values.costOf(b, mix) - this.ownOf(b)));
        let next = -1;
        let far = 0;
        for (const b of this.all) {
          const score = Math.min(extra(b), 1e6 * this.ownOf(b));
          if (score > far) [next, far] = [b, score];
        }
        if (next < 0) break;
        seeds.push(next);
        mixes.push(mixOf(next));
      }
      starts.push(this.assigned([...pinned, ...seeds.map((b) => [b])], mixes, pinned));
      if (pinned.length >= most) break;
    }
    return starts;
  }

  /** Each bed to the mix that feeds it for the least, pinned ones where they are. */
  private assigned(groups: Partition, mixes: readonly (readonly number[])[], pinned: Partition): Partition {
    const next: number[][] = groups.map((_, g) => [...(pinned[g] ?? [])]);
    const held = new Set(pinned.flat());
    for (const b of this.all) {
      if (held.has(b)) continue;
      const costs = mixes.map((mix) => this.values.costOf(b, mix));
      const at = costs.indexOf(Math.min(...costs));
      next[
        costs[at] === Infinity
          ? Math.max(
              0,
              groups.findIndex((group) => group.includes(b)),
            )
          : at
      ]!.push(b);
    }
    return next.filter((group) => group.length > 0);
  }

  /** The same with beds given to the mixes that suit them, over and over, then moved one by one. */
  private improved(start: Partition, pinned: Partition, stop: () => boolean): Partition {
    let groups = start;
    let cost = this.looseCost(groups);
    for (let round = 0; round < 20 && !stop(); round++) {
      const mixes = groups.map((group) => this.value(group).mix);
      if (mixes.some((mix) => mix.length === 0)) break;
      const next = this.assigned(groups, mixes, pinned);
      const nextCost = this.looseCost(next);
      if (!(nextCost < cost * (1 - 1e-7))) break;
      [groups, cost] = [next, nextCost];
    }
    const held = new Set(pinned.flat());
    for (let moved = true; moved && !stop(); ) {
      moved = false;
      for (const b of this.all) {
        if (held.has(b) || stop()) continue;
        const from = groups.findIndex((group) => group.includes(b));
        for (let to = 0; to < groups.length; to++) {
          if (to === from) continue;
          const next = groups
            .map((group, g) => (g === from ? group.filter((c) => c !== b) : g === to ? [...group, b] : group))
            .filter((group) => group.length > 0);
          if (next.length < groups.length) continue;
          const nextCost = this.looseCost(next);
          if (!(nextCost < cost * (1 - 1e-7)) || nextCost === Infinity) continue;
          [groups, cost, moved] = [next, nextCost, true];
          break;
        }
      }
    }
    return groups;
  }

  private looseCost(groups: Partition): number {
    return groups.reduce((sum, group) => sum + this.value(group).cost, 0);
  }
}
