/** Both sides of a Page–Hinkley test. One that has signalled starts afresh from newPageHinkley. */
export interface PageHinkley {
  /** Values so far, for a caller that believes no signal among the first ones. */
  readonly n: number
  /** Mean of the values so far, the newest included; 0 where a known mean is handed in. */
  readonly mean: number
  /** m = Σ(x − x̄ − δ), and the least it has been, 0 at the start included. */
  readonly riseSum: number
  readonly riseLeast: number
  /** The same of the mirrored values, Σ(x̄ − x − δ). */
  readonly fallSum: number
  readonly fallLeast: number
}

export interface PageHinkleySettings {
  /** Change of the mean that is let pass, 0 or more; unit of the values. */
  readonly delta: number
  /** Factor on both sums at each step, above 0 up to 1; 1 if left out: nothing is forgotten. */
  readonly forgetting?: number
  /** Instead of the running mean: then, with nothing forgotten, each side is a tabular CUSUM with k = δ. */
  readonly knownMean?: number
}

export function newPageHinkley(): PageHinkley {
  return { n: 0, mean: 0, riseSum: 0, riseLeast: 0, fallSum: 0, fallLeast: 0 }
}

/**
 * One step m ← α·m + (x − x̄ − δ) of either side (Page 1954, Biometrika 41:100; Hinkley 1971, Biometrika 58:509).
 * @param value finite  @throws RangeError naming what is out of range
 */
export function advancePageHinkley(state: PageHinkley, value: number, settings: PageHinkleySettings): PageHinkley {
  const { delta, forgetting = 1, knownMean } = settings
  if (!Number.isFinite(value)) throw new RangeError(`value must be a finite number, got ${value}`)
  if (!(delta >= 0 && delta < Infinity)) throw new RangeError(`delta must be a finite number from 0, got ${delta}`)
  if (!(forgetting > 0 && forgetting <= 1))
    throw new RangeError(`forgetting must be above 0 and at most 1, got ${forgetting}`)
  if (knownMean !== undefined && !Number.isFinite(knownMean))
    throw new RangeError(`knownMean must be a finite number, got ${knownMean}`)
  const n = state.n + 1
  const mean = knownMean === undefined ? state.mean + (value - state.mean) / n : 0
  const deviation = value - (knownMean ?? mean)
  const riseSum = forgetting * state.riseSum + deviation - delta
  const fallSum = forgetting * state.fallSum - deviation - delta
  const riseLeast = Math.min(state.riseLeast, riseSum)
  const fallLeast = Math.min(state.fallLeast, fallSum)
  return { n, mean, riseSum, riseLeast, fallSum, fallLeast }
}

/** What each side has risen above its least, m − M. A side signals strictly above the threshold λ. */
export function pageHinkleyExcursions(state: PageHinkley): { readonly high: number; readonly low: number } {
  return { high: state.riseSum - state.riseLeast, low: state.fallSum - state.fallLeast }
}
