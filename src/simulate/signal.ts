import { DAY_MS, MINUTE_MS } from '../model/time.js'
import { toleranceAt } from '../model/tolerance.js'
import { exp, ln } from '../statistics/distributions.js'
import { biasNtu, type ErrorAt } from './analyzerError.js'
import { autoregression } from './autoregression.js'
import { classOf, INTERVAL_S, pointOf, type SiteAnalyzer } from './hollinWeir.js'
import { randomStream } from './random.js'
import type { Scenario } from './scenario.js'
import type { Visit, WorkStep } from './visits.js'
import { levelAt, type Water } from './water.js'

/** One reading as the analyzer sends it. */
export interface SentReading {
  readonly atMs: number
  readonly value: number
  readonly state?: 'maintenance' | 'calibrating'
  readonly flowLMin?: number
  readonly lightSourcePct?: number
}

export interface Nature {
  readonly seed: number
  readonly scenario: Scenario
  readonly water: Water
  readonly errorAt: ErrorAt
  readonly visits: readonly Visit[]
}

/** Slow difference between the water in the cell and at the point, in tolerances. */
const MISMATCH = { sd: [0.05, 0.08], correlationS: [86_400, 172_800] } as const
/** Noise of one reading: a fixed part in steps of the signal and a part of the level. */
const NOISE = { steps: 0.8, relative: 0.01 } as const
const SHARE_MISSING = 0.001

/** The readings of one analyzer. To be called once for each reading, in order of time; undefined where none is sent. */
export function startSignal(nature: Nature, analyzer: SiteAnalyzer): (atMs: number) => SentReading | undefined {
  const { seed, scenario, water, errorAt } = nature
  const pointId = pointOf(analyzer.id).id
  const { perNtu, tolerance } = classOf(analyzer.id)
  const visits = nature.visits.filter(visit => visit.analyzer === analyzer.id)
  const random = randomStream(seed, `noise:${analyzer.id}`)
  const outage = randomStream(seed, `missing:${analyzer.id}`)
  const upset = randomStream(seed, `upset:${analyzer.id}`)
  const bubble = randomStream(seed, `bubbles:${analyzer.id}`)
  const line = randomStream(seed, `sample line:${analyzer.id}`)
  const mismatch = autoregression(
    line,
    line.between(...MISMATCH.sd),
    line.between(...MISMATCH.correlationS),
    INTERVAL_S,
  )
  const flow = startFlow(nature, analyzer)
  let heldValue = 0

  return atMs => {
    const truth = levelAt(water, pointId, atMs - analyzer.transportDelayS * 1_000)
    const noise = (NOISE.steps / perNtu + NOISE.relative * truth) * random.normal()
    const ofTolerance = toleranceAt(tolerance, truth)
    const visit = visits.find(each => atMs >= each.onMs && atMs < each.offMs)
    const error = errorAt(analyzer.id, atMs)
    let value = truth + biasNtu(analyzer.id, error, truth) + mismatch() * ofTolerance + noise
    let state: SentReading['state']
    if (visit !== undefined) {
      const step = visit.steps.find(each => isInCell(each, atMs))
      state = step === undefined ? 'maintenance' : 'calibrating'
      value =
        step === undefined
          ? disturbed(value, ofTolerance, upset.uniform(), upset.uniform())
          : step.inCellNtu! + biasNtu(analyzer.id, error, step.inCellNtu!) + noise
    } else {
      value += settling(visits, atMs, upset.between(0.9, 1.1)) * ofTolerance
    }
    if (analyzer.id === 'FE5-A' && atMs >= scenario.bubbles.onsetMs && atMs < scenario.bubbles.flushedMs) {
      if (bubble.uniform() < scenario.bubbles.share) value += 0.04 - 0.15 * ln(1 - bubble.uniform())
    }
    let sent = Math.round(value * perNtu) / perNtu
    if (analyzer.id === 'FE2-A' && atMs >= scenario.stuck.onsetMs && atMs < scenario.stuck.endMs) sent = heldValue
    heldValue = sent
    if (outage.uniform() < SHARE_MISSING) return undefined
    return {
      atMs,
      value: sent === 0 ? 0 : sent,
      ...(state === undefined ? {} : { state }),
      ...flow(atMs),
      ...light(nature, analyzer, atMs),
    }
  }
}

/** A reference stands in the cell from 15 minutes before the record until 5 after. */
function isInCell(step: WorkStep, atMs: number): boolean {
  return step.inCellNtu !== undefined && atMs >= step.atMs - 15 * MINUTE_MS && atMs < step.atMs + 5 * MINUTE_MS
}

/** Cell open, emptied, filled again: now near nothing, now far too high. */
function disturbed(value: number, toleranceNtu: number, draw: number, size: number): number {
  if (draw < 0.3) return 0.2 * size * value
  if (draw < 0.75) return value + 20 * size * size * toleranceNtu
  return value
}

/** What the visit stirred up dies away within 20 to 40 minutes; in tolerances. */
function settling(visits: readonly Visit[], atMs: number, unsteady: number): number {
  let left = 0
  for (const visit of visits) {
    const sinceMin = (atMs - visit.offMs) / MINUTE_MS
    if (sinceMin >= 0 && sinceMin < 120) left += 3 * exp(-sinceMin / 9) * unsteady
  }
  return left
}

/** Sample flow steps about its setting; a pump that draws air gives a little less. */
function startFlow(nature: Nature, analyzer: SiteAnalyzer): (atMs: number) => { readonly flowLMin?: number } {
  if (analyzer.reports !== 'flow') return () => ({})
  const random = randomStream(nature.seed, `flow:${analyzer.id}`)
  const wander = autoregression(random, 0.06, 6 * 3_600, INTERVAL_S)
  const { onsetMs, flushedMs } = nature.scenario.bubbles
  return atMs => {
    const usual = analyzer.id === 'FE5-A' && atMs >= onsetMs && atMs < flushedMs ? 0.9 : 1.05
    return { flowLMin: Math.round((usual + wander()) * 10) / 10 }
  }
}

/** Light source level in per cent of new: all age slowly, one much too fast. */
function light(nature: Nature, analyzer: SiteAnalyzer, atMs: number): { readonly lightSourcePct?: number } {
  if (analyzer.reports !== 'light') return {}
  const days = (atMs - nature.water.startMs) / DAY_MS
  if (analyzer.id !== 'RW-B') return { lightSourcePct: Math.round((97 - 0.008 * days) * 10) / 10 }
  const { onsetMs, replacedMs, lightPctAtEnd } = nature.scenario.ageing
  const replaced = replacedMs - 25 * MINUTE_MS
  if (atMs < onsetMs || atMs >= replaced) return { lightSourcePct: 100 }
  const aged = (atMs - onsetMs) / (replaced - onsetMs)
  return { lightSourcePct: Math.round((100 - (100 - lightPctAtEnd) * aged) * 10) / 10 }
}
