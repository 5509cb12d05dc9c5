/** Concordant minus discordant pairs: Σ sgn(x_j − x_i) over i < j, for values in order of time. */
export function kendallScore(values: ArrayLike<number>): number {
  let score = 0
  for (let j = 1; j < values.length; j++) {
    for (let i = 0; i < j; i++) score += Math.sign(values[j]! - values[i]!)
  }
  return score
}

/**
 * Variance of that score where the order means nothing: [n(n−1)(2n+5) − Σ t(t−1)(2t+5)]/18, the sum over groups of t
 * equal values (Kendall 1975, Rank Correlation Methods). Of several samples of n, such as x and y of pairs, the ties of
 * each are taken off: right where only one has ties, too small by a little where both have (Sen 1968).
 */
export function kendallVariance(n: number, ...samples: readonly ArrayLike<number>[]): number {
  const ties = samples.flatMap(tieSizes)
  return (threefold(n) - ties.reduce((sum, size) => sum + threefold(size), 0)) / 18
}

export function hasTies(values: ArrayLike<number>): boolean {
  return tieSizes(values).some(size => size > 1)
}

function tieSizes(values: ArrayLike<number>): readonly number[] {
  const counts = new Map<number, number>()
  for (const value of Array.from(values)) counts.set(value, (counts.get(value) ?? 0) + 1)
  return [...counts.values()]
}

function threefold(size: number): number {
  return size * (size - 1) * (2 * size + 5)
}
