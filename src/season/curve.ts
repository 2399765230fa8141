/** Piecewise-linear curves over days. */
import type { Points } from "../model.ts";

/** Value at `x`: linear between the points, constant before the first and after the last. Needs one point. */
export function interpolate(points: Points, x: number): number {
  const first = points[0]!;
  if (x <= first[0]) return first[1];
  for (let k = 1; k < points.length; k++) {
    const [x1, y1] = points[k]!;
    if (x <= x1) {
      const [x0, y0] = points[k - 1]!;
      return y0 + ((y1 - y0) * (x - x0)) / (x1 - x0);
    }
  }
  return points[points.length - 1]![1];
}

/** The same, for a share that starts from nothing: 0 at day 0 unless a point says otherwise. */
export function interpolateFromZero(points: Points, x: number): number {
  const first = points[0]!;
  if (first[0] <= 0 || x > first[0]) return interpolate(points, x);
  return x <= 0 ? 0 : (first[1] * x) / first[0];
}
