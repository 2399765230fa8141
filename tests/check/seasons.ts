/** The rest of random seasons by the project, against a program and simulations written apart (`season-apart.ts`). */
import { type Beside, besideApart } from "../helpers/season-rest.ts";

/** Costs agree to this share, chances to this many points. */
const COST = 1e-6;
const POINTS = 0.5;

/** Checks `count` seasons from the number `first` on by `draws` draws each and prints what was found; returns the exit code. */
export async function checkSeasons(
  count: number,
  draws: number,
  print: (line: string) => void,
  first = 0,
): Promise<number> {
  let [found, none, wrong, read, lost, surest] = [0, 0, 0, 0, 0, 0];
  let worstCost = 0;
  let worstPoints = 0;
  const pointsOff = ({ met, drawn, lean }: Beside): number =>
    100 * Math.max(Math.abs(met! - drawn!), lean ? Math.abs(lean.met - lean.drawn) : 0);
  for (let seed = first; seed < first + count; seed++) {
    let one = await besideApart(seed, draws);
    // 100,000 draws have a standard error of up to 0.16 points: of hundreds of chances some are off by three of them.
    if (one.cost !== null && pointsOff(one) > POINTS) one = await besideApart(seed, 4 * draws);
    if (one.readings > 0) read++;
    if (one.losses > 0) lost++;
    if (one.surest) surest++;
    if (one.cost === null || one.apartCost === null) {
      if (one.cost === one.apartCost) none++;
      else {
        wrong++;
        print(`season ${seed}: ${one.cost} here, ${one.apartCost} apart`);
      }
      continue;
    }
    found++;
    const off = Math.abs(one.cost - one.apartCost) / Math.max(1, one.cost);
    const points = pointsOff(one);
    worstCost = Math.max(worstCost, off);
    worstPoints = Math.max(worstPoints, points);
    if (off <= COST && points <= POINTS) continue;
    wrong++;
    print(`season ${seed}: cost off by ${off.toExponential(1)}, chance by ${points.toFixed(2)} points`);
  }
  print(
    `${count} seasons, ${draws} draws each: ${found} have a rest, ${none} have none by either; ${surest} as sure as can be and less than asked; ${read} with a reading, ${lost} with a loss; costs off by ${worstCost.toExponential(1)} at most, chances by ${worstPoints.toFixed(2)} points; ${wrong} wrong`,
  );
  return wrong === 0 ? 0 : 1;
}
