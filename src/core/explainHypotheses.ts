import { sharedLines } from '../compare/sampleLines.js'
import type { Hypothesis } from '../diagnose/hypothesis.js'
import { weighHypotheses } from '../diagnose/posterior.js'
import { DIGITS, roundTo } from '../model/rounding.js'
import { toleranceAt } from '../model/tolerance.js'
import { listWords } from '../recommend/summary.js'
import { evidenceOf } from './assess.js'
import type { PointContext } from './context.js'
import type { Explanation } from './explanation.js'
import type { PointState } from './pointState.js'

const SHOWN_HYPOTHESES = 8

const KIND_WORDS = { zero: 'zero error', span: 'span error', fouling: 'film on the window', none: 'nothing' } as const

/** The heaviest explanations of the evidence at the point, in words, with their probabilities. */
export function hypothesesOf(context: PointContext, point: PointState, workedMs: number): Explanation['hypotheses'] {
  const levels = point.fold.units.flatMap(unit => unit.levelNtu ?? [])
  const levelNtu = levels.length > 0 ? levels.reduce((sum, level) => sum + level, 0) / levels.length : 0
  const evidence = evidenceOf(context, point, workedMs)
  if (evidence.series.length === 0) return []
  const posterior = weighHypotheses({
    evidence,
    atMs: workedMs,
    toleranceNtu: toleranceAt(context.point.tolerance, levelNtu),
    cleaningsMs: point.fold.units.map(unit => unit.cleaningsMs),
    recoveredMs: point.fold.units.map(unit => unit.recoveredMs),
    laboratory: null,
    sampleLines: sharedLines(context.analyzers),
  })
  const byText = new Map<string, number>()
  for (const hypothesis of posterior.hypotheses) {
    const text = sayHypothesis(hypothesis, context)
    byText.set(text, (byText.get(text) ?? 0) + hypothesis.weight)
  }
  return [...byText.entries()]
    .sort(([, a], [, b]) => b - a)
    .slice(0, SHOWN_HYPOTHESES)
    .map(([text, probability]) => ({ text, probability: roundTo(probability, DIGITS.probability) }))
}

function sayHypothesis({ who, kind, shape }: Hypothesis, context: PointContext): string {
  if (who === 'nobody') return 'nothing is wrong'
  if (who === 'laboratory') return 'the laboratory has shifted'
  if (typeof who === 'object')
    return `sample line ${who.sampleLine} brings other water to ${listWords(who.units.map(unit => context.point.analyzers[unit] ?? ''))}`
  const whom = who === 'all' ? 'all units' : (context.point.analyzers[who] ?? '')
  return `${whom}: ${KIND_WORDS[kind]}, ${shape === 'step' ? 'at once' : 'growing'}`
}
