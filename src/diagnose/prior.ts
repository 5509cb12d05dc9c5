import type { SampleLine } from '../compare/sampleLines.js'
import { ln, normalCdf } from '../statistics/distributions.js'
import type { Kind, Shape, Who } from './hypothesis.js'
import type { LaboratoryView } from './laboratory.js'

type Wrong = Exclude<Kind, 'none'>

/** Prior probabilities. Within "unit" all units are alike, as are all begins in time. */
export const PRIOR = { nobody: 0.5, unit: 0.45, all: 0.04, sampleLine: 0.04, laboratory: 0.01, before: 0.15 } as const
const KIND_PRIOR: readonly (readonly [Wrong, number])[] = [
  ['zero', 0.4],
  ['span', 0.3],
  ['fouling', 0.3],
]
/**
 * A film grows, and mostly ever faster; a drift comes at once or evenly, and seldom faster. Every kind has every shape,
 * so that a chance bend in the record does not decide what is wrong.
 */
const DRIFT_SHAPES: readonly (readonly [Shape, number])[] = [
  ['step', 0.45],
  ['ramp', 0.45],
  ['growth', 0.1],
]
const SHAPE_PRIOR: Record<Wrong, readonly (readonly [Shape, number])[]> = {
  zero: DRIFT_SHAPES,
  span: DRIFT_SHAPES,
  fouling: [
    ['step', 0.1],
    ['ramp', 0.4],
    ['growth', 0.5],
  ],
}
const LABORATORY_KIND: readonly (readonly [Wrong, number])[] = [['zero', 1]]
const LABORATORY_SHAPE: readonly (readonly [Shape, number])[] = [['step', 1]]
const SPAN_PRIOR_SD = 0.1
const SPAN_MOST = 0.5

/** A unit, all units or the laboratory, wrong in one way; what it adds to a reading does not depend on the shape. */
export interface Suspicion {
  readonly who: Who
  readonly kind: Wrong
  /** Prior mean and standard deviation of the size. */
  readonly priorMean: number
  readonly priorSd: number
  readonly shapes: readonly { readonly shape: Shape; readonly logPrior: number }[]
}

/** What may be wrong at a point, but for "nobody" and the begin. @param laboratory see PosteriorInput */
export function suspicions(
  units: number,
  toleranceNtu: number,
  laboratory: LaboratoryView | null,
  sampleLines: readonly SampleLine[],
): Suspicion[] {
  const list: Suspicion[] = []
  for (const { who, prior } of suspects(units, laboratory !== null, sampleLines)) {
    const isLaboratory = who === 'laboratory'
    const gain = isLaboratory ? (laboratory?.gain ?? 0) : 0
    for (const [kind, kindPrior] of isLaboratory ? LABORATORY_KIND : KIND_PRIOR) {
      if ((who === 'all' || typeof who === 'object') && kind === 'fouling') continue
      list.push({
        who,
        kind,
        priorMean: isLaboratory ? (laboratory?.mean ?? 0) : 0,
        priorSd: isLaboratory ? (laboratory?.sd ?? 1) : kind === 'span' ? SPAN_PRIOR_SD : toleranceNtu,
        shapes: (isLaboratory ? LABORATORY_SHAPE : SHAPE_PRIOR[kind]).map(([shape, shapePrior]) => ({
          shape,
          logPrior: ln(prior * kindPrior * shapePrior) + gain,
        })),
      })
    }
  }
  return list
}

function suspects(
  units: number,
  withLaboratory: boolean,
  sampleLines: readonly SampleLine[],
): { who: Who; prior: number }[] {
  const list: { who: Who; prior: number }[] = []
  for (let unit = 0; unit < units; unit++) list.push({ who: unit, prior: PRIOR.unit / units })
  if (units > 1) list.push({ who: 'all', prior: PRIOR.all })
  for (const line of sampleLines) list.push({ who: line, prior: PRIOR.sampleLine })
  if (withLaboratory) list.push({ who: 'laboratory', prior: PRIOR.laboratory })
  return list
}

/** Logarithm of the posterior's share inside a prior that is cut: a film only adds, a span error stays below one half. */
export function logInsidePrior(kind: Kind, mean: number, sd: number): number {
  if (kind === 'fouling') return LN_2 + logNormalTail(mean / sd)
  if (kind !== 'span') return 0
  // On the positive side, whatever the sign: there the far end is a small number and not one less a small number.
  const size = Math.abs(mean)
  const nearest = (SPAN_MOST - size) / sd
  if (nearest < FAR) return logNormalTail(nearest)
  return ln(normalCdf(nearest) - normalCdf((-SPAN_MOST - size) / sd))
}

const LN_2 = ln(2)
/** Farther out Φ leaves the range of numbers, and its first asymptotic term is good to a thousandth. */
const FAR = -30
const LN_SQRT_TWO_PI = 0.9189385332046728

/** ln Φ(z) (Abramowitz and Stegun 1964, 26.2.12). */
function logNormalTail(z: number): number {
  return z < FAR ? (-z * z) / 2 - ln(-z) - LN_SQRT_TWO_PI : ln(normalCdf(z))
}
