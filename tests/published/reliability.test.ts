import { describe, expect, it } from 'vitest'
import {
  fitExponential,
  fitWeibull,
  type Life,
  type LifeFit,
  type WeibullLife,
} from '../../src/statistics/intervalCensored.js'
import {
  intervalForReliability,
  reliabilityAt,
  zeroFailureRateBound,
  zeroFailureShareBound,
} from '../../src/statistics/reliability.js'
import { expectWithin, readReference } from './reference.js'

function fitted(fit: LifeFit): WeibullLife {
  if (fit.life === null) throw new Error(`no fit: ${fit.reason}`)
  return fit.life
}

/** x of n out of tolerance when each was looked at after T: over somewhere before, or lasting still. */
function visits(T: number, n: number, x: number): Life[] {
  return [
    { lower: 0, upper: T, weight: x },
    { lower: T, upper: null, weight: n - x },
  ]
}

// Standards items E2.2 and E2.3: exponential reliability, class S1 of NCSL RP-1; from memory, recomputed.
describe('one common interval of 90 days, 5 of 50 out of tolerance', () => {
  const life = fitted(fitExponential(visits(90, 50, 5)))

  it('has the rate −ln(1 − x/n)/T and its intervals', () => {
    expectWithin(1 / life.scale, 0.001170672, { absolute: 5e-10 }, 'rate')
    expectWithin(intervalForReliability(life, 0.95), 43.8152, { absolute: 5e-5 }, 'interval for 0.95')
    expectWithin(intervalForReliability(life, 0.9), 90, { relative: 1e-9 }, 'interval for 0.90')
    expectWithin(reliabilityAt(life, 90), 0.9, { relative: 1e-9 }, 'reliability')
  })

  it('has a bound where none of 50 was out', () => {
    expectWithin(zeroFailureShareBound(50), 0.058155, { absolute: 5e-7 }, 'share')
    expectWithin(zeroFailureRateBound(50 * 90), -Math.log(1 - 0.058155) / 90, { relative: 1e-5 }, 'rate')
    expect(fitExponential([{ lower: 90, upper: null, weight: 50 }])).toEqual({ life: null, reason: 'none_failed' })
  })
})

// Standards item E3, own arithmetic in other code.
describe('three intervals together', () => {
  const groups = [
    [30, 40, 1],
    [90, 60, 6],
    [180, 25, 5],
  ] as const
  const life = fitted(fitExponential(groups.flatMap(([T, n, x]) => visits(T, n, x))))

  it('have the printed rate, likelihood and intervals', () => {
    expectWithin(1 / life.scale, 0.00116003, { relative: 3e-6 }, 'rate')
    expectWithin(life.logLikelihood, -36.758729, { absolute: 5e-7 }, 'log-likelihood')
    expectWithin(intervalForReliability(life, 0.95), 44.2172, { relative: 1.2e-6 }, 'interval for 0.95')
    expectWithin(intervalForReliability(life, 0.85), 140.099, { relative: 4e-6 }, 'interval for 0.85')
  })

  it('have a standard error near that of the expected information', () => {
    // The printed one is from the expected information, this one from the observed.
    expectWithin(life.lnScaleSd / life.scale, 0.000334803, { relative: 0.01 }, 'standard error')
  })
})

// Standards item E4: remission of 21 patients on 6-MP, Freireich 1963, Gehan 1965; from memory, recomputed.
describe('remission times', () => {
  it('have the exponential rate 9 in 359', () => {
    const over = [6, 6, 6, 7, 10, 13, 16, 22, 23]
    const lasting = [6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35]
    const life = fitted(
      fitExponential([
        ...over.map(time => ({ lower: time, upper: time })),
        ...lasting.map(time => ({ lower: time, upper: null })),
      ]),
    )
    expectWithin(1 / life.scale, 9 / 359, { relative: 1e-12 }, 'rate')
    expectWithin(life.lnScaleSd, 1 / 3, { relative: 1e-9 }, 'standard error, 1/√9')
  })
})

// R 4.2.2 survival 3.5.3 survreg and scipy: reference/survival.json.
interface Input {
  readonly lower: readonly number[]
  readonly upper: readonly (number | null)[]
  readonly weights?: readonly number[]
}
interface Fit {
  readonly scale: number
  readonly seLogScale: number
  readonly logLikelihood: number
  readonly survivalAt: readonly { readonly t: number; readonly s: number }[]
  readonly quantiles: readonly { readonly p: number; readonly t: number }[]
}
interface Expected {
  readonly exponential: Fit & { readonly rate: number }
  readonly weibull: Fit & {
    readonly shape: number
    readonly seLogShape: number
    readonly covLogScaleLogShape: number
  }
}

describe('interval-censored lives against R', () => {
  const entries = readReference<Input, Expected>('survival')
  const standardErrors = { relative: 0.005 }

  it.each(entries.map(entry => [entry.id, entry] as const))('%s', (_id, { input, expected, tolerance }) => {
    const lives = input.lower.map((lower, i) => ({
      lower,
      upper: input.upper[i] ?? null,
      weight: input.weights?.[i] ?? 1,
    }))
    const both = [
      [fitted(fitExponential(lives)), expected.exponential],
      [fitted(fitWeibull(lives)), expected.weibull],
    ] as const
    for (const [life, wanted] of both) {
      expectWithin(life.scale, wanted.scale, tolerance, 'scale')
      expectWithin(life.lnScaleSd, wanted.seLogScale, standardErrors, 'sd of ln scale')
      expectWithin(life.logLikelihood, wanted.logLikelihood, { absolute: 1e-6 }, 'log-likelihood')
      for (const { t, s } of wanted.survivalAt) expectWithin(reliabilityAt(life, t), s, tolerance, `R(${t})`)
      for (const { p, t } of wanted.quantiles)
        expectWithin(intervalForReliability(life, 1 - p), t, tolerance, `interval for ${1 - p}`)
    }
    expectWithin(1 / both[0][0].scale, expected.exponential.rate, tolerance, 'rate')
    const [weibull] = both[1]
    expectWithin(weibull.shape, expected.weibull.shape, tolerance, 'shape')
    expectWithin(weibull.lnShapeSd, expected.weibull.seLogShape, standardErrors, 'sd of ln shape')
    expectWithin(
      weibull.lnCovariance,
      expected.weibull.covLogScaleLogShape,
      { relative: 0.005, absolute: 1e-5 },
      'covariance',
    )
  })

  it('covers weights, ends that were seen and heavy censoring', () => {
    expect(entries).toHaveLength(8)
  })
})
