/** One input of a measurement model: how much the result moves with it, and how well it is known. */
export interface Contribution {
  /** ∂result/∂input. */
  readonly sensitivity: number
  readonly standardUncertainty: number
}

/**
 * Law of propagation of uncertainty for inputs that are not correlated: u² = Σ (c·u)².
 * Source: JCGM 100:2008 (GUM), 5.1.2.
 */
export function combinedStandardUncertainty(contributions: readonly Contribution[]): number {
  return Math.sqrt(
    contributions.reduce((sum, { sensitivity, standardUncertainty }) => {
      const part = sensitivity * standardUncertainty
      return sum + part * part
    }, 0),
  )
}

/**
 * Standard uncertainty of a quantity known to lie within ±`halfWidth`: halfWidth/√3 where every value is as likely
 * (JCGM 100:2008, 4.3.7), halfWidth/√6 where values near the middle are likelier (4.3.9).
 */
export function uncertaintyOfLimits(halfWidth: number, shape: 'rectangular' | 'triangular'): number {
  return halfWidth / Math.sqrt(shape === 'rectangular' ? 3 : 6)
}
