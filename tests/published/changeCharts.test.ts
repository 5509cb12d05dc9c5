import { describe, expect, it } from 'vitest'
import { cusumPath } from '../../src/statistics/cusumPath.js'
import { advanceGlr, glrPeak, newGlrChart } from '../../src/statistics/glrRamp.js'
import {
  advancePageHinkley,
  newPageHinkley,
  pageHinkleyExcursions,
  type PageHinkleySettings,
} from '../../src/statistics/pageHinkley.js'
import { normalSource } from '../statistics/random.js'
import { expectWithin, readReference } from './reference.js'

// Standards items C11.1 and C11.2: with a known mean m − M is the tabular CUSUM with k = δ when M starts at m = 0.
describe('Page–Hinkley with a known mean', () => {
  it('follows the path of the CUSUM on 200 random points', () => {
    const normal = normalSource(20_260_320)
    const x = Array.from({ length: 200 }, () => 10 + normal())
    const upper = cusumPath(
      x.map(value => value - 10),
      { k: 0.25, h: Infinity },
    )
    const lower = cusumPath(
      x.map(value => 10 - value),
      { k: 0.25, h: Infinity },
    )
    let state = newPageHinkley()
    x.forEach((value, i) => {
      state = advancePageHinkley(state, value, { delta: 0.25, knownMean: 10 })
      const { high, low } = pageHinkleyExcursions(state)
      expectWithin(high, upper.sums[i] ?? NaN, { absolute: 1e-12 }, `rise ${i}`)
      expectWithin(low, lower.sums[i] ?? NaN, { absolute: 1e-12 }, `fall ${i}`)
    })
  })
})

// reference/streaming.json: detections of river 0.26.1, the entries of its PageHinkley. The streams are made by the
// recipe in the notes of the file and checked with the values given there.
interface Stream {
  readonly seed: number
  readonly phi: number
  readonly mean: number
  readonly sd: number
  readonly n: number
  readonly kind: 'none' | 'step' | 'ramp'
  readonly at: number
  readonly size: number
}
interface StreamInput {
  readonly stream: Stream
  readonly first: readonly number[]
  readonly last: readonly number[]
  readonly sum: number
  readonly standardise: { readonly mean: number; readonly sd: number } | null
}

function mulberry32(seed: number): () => number {
  let a = seed
  return () => {
    a = (a + 0x6d2b79f5) | 0
    let t = Math.imul(a ^ (a >>> 15), 1 | a)
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t
    return ((t ^ (t >>> 14)) >>> 0) / 4_294_967_296
  }
}

function streamOf({ seed, phi, mean, sd, n, kind, at, size }: Stream): readonly number[] {
  const uniform = mulberry32(seed)
  let p = 0
  return Array.from({ length: n }, (_, i) => {
    let twelve = 0
    for (let j = 0; j < 12; j++) twelve += uniform()
    const e = twelve - 6
    p = i === 0 || phi === 0 ? e : phi * p + Math.sqrt(1 - phi * phi) * e
    const changed = kind === 'ramp' ? size * (i - at + 1) : size
    return mean + sd * (p + (i < at ? 0 : changed))
  })
}

/** The arguments as the reference's call names them; what it leaves out has the defaults of that software. */
function readCall(call: string): PageHinkleySettings & { warmUp: number; threshold: number; highOnly: boolean } {
  const read = (name: string, byDefault: number) => Number(new RegExp(`${name}=([\\d.]+)`).exec(call)?.[1] ?? byDefault)
  return {
    delta: read('delta', 0.005),
    forgetting: read('alpha', 0.9999),
    warmUp: read('min_instances', 30),
    threshold: read('threshold', 50),
    highOnly: call.includes("mode='up'"),
  }
}

function detectionsOf(x: readonly number[], call: string): readonly number[] {
  const settings = readCall(call)
  const detections: number[] = []
  let state = newPageHinkley()
  x.forEach((value, i) => {
    state = advancePageHinkley(state, value, settings)
    const { high, low } = pageHinkleyExcursions(state)
    const largest = settings.highOnly ? high : Math.max(high, low)
    if (state.n < settings.warmUp || largest <= settings.threshold) return
    detections.push(i)
    state = newPageHinkley()
  })
  return detections
}

describe('Page–Hinkley against river 0.26.1', () => {
  const entries = readReference<StreamInput, { readonly detections: readonly number[]; readonly count: number }>(
    'streaming',
  ).filter(entry => entry.source.call.startsWith('drift.PageHinkley'))

  it('has 28 calls on seven streams', () => {
    expect(entries).toHaveLength(28)
    expect(new Set(entries.map(entry => entry.input.stream.seed)).size).toBe(7)
  })

  it.each(entries.map(entry => [entry.id, entry] as const))('%s', (_id, { input, expected, source }) => {
    const raw = streamOf(input.stream)
    input.first.forEach((value, i) => {
      expectWithin(raw[i] ?? NaN, value, { absolute: 1e-12 }, `value ${i} of the stream`)
    })
    input.last.forEach((value, i) => {
      expectWithin(raw[raw.length - input.last.length + i] ?? NaN, value, { absolute: 1e-12 }, `last value ${i}`)
    })
    const sum = raw.reduce((a, b) => a + b, 0)
    expectWithin(sum, input.sum, { absolute: 1e-9 }, 'sum of the stream')
    const { mean, sd } = input.standardise ?? { mean: 0, sd: 1 }
    const detections = detectionsOf(
      raw.map(value => (value - mean) / sd),
      source.call,
    )
    expect(detections).toHaveLength(expected.count)
    expect(detections.slice(0, 50)).toEqual(expected.detections)
  })
})

// reference/changepoint.json: exhaustive search over onsets (numpy 2.4.6), the profiles with known mean.
interface Change {
  readonly onsetIndex: number
  readonly logLikelihoodRatio: number
  readonly shift?: number
  readonly slope?: number
  readonly profile: readonly number[]
}
interface Changes {
  readonly stepKnownMean: Change
  readonly rampKnownMean: Change
}

describe('likelihood ratio of a ramp and a step against an exhaustive search', () => {
  const entries = readReference<{ readonly x: readonly number[]; readonly sd: number }, Changes>('changepoint')
  const cases = entries.flatMap(entry => [
    { id: entry.id, shape: 'step' as const, entry, change: entry.expected.stepKnownMean },
    { id: entry.id, shape: 'ramp' as const, entry, change: entry.expected.rampKnownMean },
  ])

  it('has eleven series', () => {
    expect(entries).toHaveLength(11)
  })

  it.each(cases)('$id, $shape', ({ shape, entry, change }) => {
    const { x, sd } = entry.input
    const settings = { shape, window: x.length }
    const chart = x.reduce((state, value) => advanceGlr(state, value, sd, settings), newGlrChart())
    expect(chart.scores).toHaveLength(change.profile.length)
    change.profile.forEach((ratio, onset) => {
      const score = chart.scores[onset] ?? NaN
      expectWithin((score * score) / (2 * (chart.weights[onset] ?? NaN)), ratio, entry.tolerance, `onset ${onset}`)
    })
    const peak = glrPeak(chart)
    const size = change.slope ?? change.shift ?? NaN
    expect(peak.onsetIndex).toBe(change.onsetIndex)
    expectWithin(peak.statistic, change.logLikelihoodRatio, entry.tolerance, 'log-likelihood ratio')
    expectWithin(peak.size ?? NaN, size, entry.tolerance, 'size')
    expect(peak.side).toBe(size > 0 ? 'high' : 'low')
  })
})
