import { assertFinite, assertPositive } from './finite.js'

/**
 * The falling series nearest to the values by weighted least squares: wherever a value rises above the one before, the
 * neighbours are pooled to their weighted mean until none does (Ayer, Brunk, Ewing, Reid and Silverman 1955, Annals of
 * Mathematical Statistics 26:641). It takes any shape of a fall, where a line would have to begin with it.
 * @param values finite, in order  @param weights as many, each above 0
 * @returns as many values, none above the one before
 * @throws RangeError if empty, not finite, of unequal length, or a weight is not above 0
 */
export function fallingFit(values: readonly number[], weights: readonly number[]): number[] {
  assertFinite('values', values)
  if (weights.length !== values.length)
    throw new RangeError(`weights must be as many as values (${values.length}), got ${weights.length}`)
  const pools: { mean: number; weight: number; size: number }[] = []
  values.forEach((value, i) => {
    assertPositive(`weights[${i}]`, weights[i]!)
    let pool = { mean: value, weight: weights[i]!, size: 1 }
    for (let before = pools.at(-1); before !== undefined && before.mean < pool.mean; before = pools.at(-1)) {
      pools.pop()
      const weight = before.weight + pool.weight
      const mean = before.mean + ((pool.mean - before.mean) * pool.weight) / weight
      pool = { mean, weight, size: before.size + pool.size }
    }
    pools.push(pool)
  })
  return pools.flatMap(({ mean, size }) => Array.from({ length: size }, () => mean))
}
