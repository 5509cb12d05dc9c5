/** Arithmetic mean, summed in the order given; NaN of nothing. */
export function mean(values: readonly number[]): number {
  let sum = 0
  for (const value of values) sum += value
  return sum / values.length
}

/** A value with its standard uncertainty, above 0, in one unit. */
export interface Uncertain {
  readonly value: number
  readonly u: number
}

/**
 * Mean by weight of 1/u², and the sum of the weights: 1/√weight is its standard uncertainty where the values are
 * independent. Both are 0 of nothing.
 */
export function inverseVarianceMean(values: readonly Uncertain[]): { readonly mean: number; readonly weight: number } {
  let weight = 0
  let weighted = 0
  for (const { value, u } of values) {
    weight += 1 / (u * u)
    weighted += value / (u * u)
  }
  return { mean: weight > 0 ? weighted / weight : 0, weight }
}
