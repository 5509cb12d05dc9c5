/**
 * Thins a series for drawing: of each group of neighbours the lowest and the highest are kept, in their order, so
 * that no peak is lost. Ends are kept by being in their groups only when they are extreme.
 * @param budget most points to give back, at least 2
 */
export function thin<T>(points: readonly T[], value: (point: T) => number, budget: number): readonly T[] {
  if (points.length <= budget) return points
  const groups = Math.floor(budget / 2)
  const kept: T[] = []
  for (let group = 0; group < groups; group++) {
    const from = Math.floor((group * points.length) / groups)
    const to = Math.floor(((group + 1) * points.length) / groups)
    const [first, second] = extremes(points, value, from, to)
    kept.push(points[first]!)
    if (second !== first) kept.push(points[second]!)
  }
  return kept
}

/** Indices of the lowest and the highest in [from, to), the earlier one first. */
function extremes<T>(
  points: readonly T[],
  value: (point: T) => number,
  from: number,
  to: number,
): readonly [number, number] {
  let lowest = from
  let highest = from
  for (let index = from + 1; index < to; index++) {
    const size = value(points[index]!)
    if (size < value(points[lowest]!)) lowest = index
    if (size > value(points[highest]!)) highest = index
  }
  return lowest < highest ? [lowest, highest] : [highest, lowest]
}
