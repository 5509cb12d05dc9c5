import { DAY_MS } from '../model/time.js'
import { toleranceAt } from '../model/tolerance.js'
import { classOf, POINTS } from './hollinWeir.js'
import { randomStream } from './random.js'
import type { Scenario } from './scenario.js'

/** What is wrong with one analyzer at one instant: reading = truth + zeroNtu + spanRel·truth + standing·tolerance(truth). */
export interface AnalyzerError {
  readonly zeroNtu: number
  readonly spanRel: number
  /** Small error that no work removes, in tolerances. */
  readonly standing: number
}

export type ErrorAt = (analyzerId: string, atMs: number) => AnalyzerError

/** A sound unit stands at most this far from the truth, in tolerances. */
const STANDING = { sd: 0.05, most: 0.12 } as const

interface ErrorPart {
  readonly fromMs: number
  readonly toMs: number
  readonly effect: 'zeroNtu' | 'spanRel'
  readonly size: (days: number) => number
}

/** The true error of every analyzer over the run, as a function of time in closed form. */
export function drawErrors(seed: number, scenario: Scenario): ErrorAt {
  const parts = errorParts(seed, scenario)
  const standing = new Map<string, number>()
  for (const analyzer of POINTS.flatMap(point => point.analyzers)) {
    standing.set(analyzer.id, randomStream(seed, `standing:${analyzer.id}`).cutNormal(STANDING.sd, STANDING.most))
  }
  standing.set('FE4-A', scenario.standing.ofTolerance)
  return (analyzerId, atMs) => {
    const error = { zeroNtu: 0, spanRel: 0 }
    for (const part of parts.get(analyzerId) ?? []) {
      if (atMs >= part.fromMs && atMs < part.toMs) error[part.effect] += part.size((atMs - part.fromMs) / DAY_MS)
    }
    return { ...error, standing: standing.get(analyzerId) ?? 0 }
  }
}

/** @returns NTU by which the analyzer reads above water of this turbidity, sample line and noise apart */
export function biasNtu(analyzerId: string, error: AnalyzerError, truthNtu: number): number {
  return (
    error.zeroNtu + error.spanRel * truthNtu + error.standing * toleranceAt(classOf(analyzerId).tolerance, truthNtu)
  )
}

function errorParts(seed: number, s: Scenario): ReadonlyMap<string, readonly ErrorPart[]> {
  const left = randomStream(seed, 'left after work')
  const zero = (fromMs: number, toMs: number, size: (days: number) => number): ErrorPart => ({
    fromMs,
    toMs,
    effect: 'zeroNtu',
    size,
  })
  const span = (fromMs: number, toMs: number, size: (days: number) => number): ErrorPart => ({
    fromMs,
    toMs,
    effect: 'spanRel',
    size,
  })
  const constant = (value: number) => () => value
  const foulingDays = (s.fouling.cleanedMs - s.fouling.onsetMs) / DAY_MS
  return new Map([
    [
      'FE3-B',
      [
        zero(s.zeroFall.onsetMs, s.zeroFall.zeroMs, days => -s.zeroFall.ntuPerDay * days),
        zero(s.zeroFall.zeroMs, Infinity, constant(left.cutNormal(0.001, 0.002))),
      ],
    ],
    [
      'CFE-C',
      [
        zero(s.zeroRise.onsetMs, s.zeroRise.zeroMs, days => s.zeroRise.ntuPerDay * days),
        zero(s.zeroRise.zeroMs, Infinity, constant(left.cutNormal(0.001, 0.002))),
      ],
    ],
    [
      'SW-A',
      [
        zero(
          s.fouling.onsetMs,
          s.fouling.cleanedMs,
          days => (s.fouling.finalNtu * days * days) / (foulingDays * foulingDays),
        ),
        zero(s.fouling.cleanedMs, Infinity, constant(s.fouling.leftNtu)),
      ],
    ],
    [
      'RW-B',
      [
        span(s.ageing.onsetMs, s.ageing.replacedMs, days => -s.ageing.relativePerDay * days),
        span(s.ageing.replacedMs, Infinity, constant(left.cutNormal(0.005, 0.01))),
      ],
    ],
    [
      'FE6-A',
      [
        zero(s.turbidZero.zeroMs, s.turbidZero.rezeroMs, constant(-s.turbidZero.waterNtu)),
        zero(s.turbidZero.rezeroMs, Infinity, constant(left.cutNormal(0.001, 0.002))),
      ],
    ],
    ['CFE-A', [span(s.wrongStandard.spanMs, Infinity, constant(s.wrongStandard.spanRel))]],
    [
      'CW-A',
      [
        span(s.spanStep.onsetMs, s.spanStep.halfDoneMs, constant(s.spanStep.spanRel)),
        span(s.spanStep.halfDoneMs, s.spanStep.properMs, constant(s.spanStep.spanRel * s.spanStep.shareLeft)),
        span(s.spanStep.properMs, Infinity, constant(left.cutNormal(0.005, 0.01))),
      ],
    ],
  ])
}
