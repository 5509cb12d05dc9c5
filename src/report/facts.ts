import type { Explanation } from '../core/explanation.js'
import type { RecommendationData } from '../model/events.js'
import { biasAsAsked, biasNow, onsetOf } from './bias.js'
import {
  liveRecommendation,
  sayBias,
  sayBiasOfTolerance,
  sayFinding,
  sayForecast,
  sayNumber,
  sayOnset,
  sayPercent,
  saySigned,
  sayTime,
} from './say.js'
import { ASSESSMENT_TEXT } from './words.js'

export interface Fact {
  readonly label: string
  readonly value: string
}

/** The numbers of an explanation, in the order in which they are read, for page and terminal alike. */
export function factsOf(explanation: Explanation): readonly Fact[] {
  const { status } = explanation
  const recommendation = liveRecommendation(explanation)
  const asAsked = biasAsAsked(explanation)
  const onset = onsetOf(explanation)
  return [
    ...biasFacts(biasNow(explanation)),
    ...(asAsked === undefined
      ? []
      : [{ label: 'Bias in the request', value: `${sayBias(asAsked.bias)}, as known ${sayTime(asAsked.known)}` }]),
    { label: 'Tolerance', value: explanation.toleranceText },
    ...precisionFacts(explanation.precision),
    ...trueValues(recommendation),
    ...modelFacts(recommendation),
    ...(onset === undefined ? [] : [{ label: 'Onset', value: sayOnset(onset) }]),
    ...(recommendation?.bias === undefined
      ? []
      : [{ label: 'Tolerance passed', value: tolerancePassed(explanation, recommendation) }]),
    { label: 'Assessment', value: sayAssessment(status) },
    ...(status.findings.length === 0 ? [] : [{ label: 'Findings', value: status.findings.map(sayFinding).join('; ') }]),
    ...(status.notes === undefined ? [] : [{ label: 'Provided for', value: status.notes.join('; ') }]),
    {
      label: 'Last independent evidence',
      value: status.lastIndependentEvidence === undefined ? 'none' : sayTime(status.lastIndependentEvidence),
    },
  ]
}

function sayAssessment({ assessment, since, missing }: Explanation['status']): string {
  if (since === undefined) return `not assessed: ${missing.join('; ')}`
  return `${ASSESSMENT_TEXT[assessment]}, since ${sayTime(since)}`
}

function biasFacts(bias: ReturnType<typeof biasNow>): readonly Fact[] {
  if (bias === undefined) return [{ label: 'Bias', value: 'cannot be told: nothing independent to compare with' }]
  return [
    { label: 'Bias', value: sayBias(bias) },
    { label: 'Bias in tolerances', value: sayBiasOfTolerance(bias) },
  ]
}

function precisionFacts(precision: Explanation['precision']): readonly Fact[] {
  if (precision === undefined) return []
  const units = precision.map(
    ({ analyzer, ofTolerance }) =>
      `${analyzer} ${ofTolerance === null ? 'not told apart from 0' : sayNumber(ofTolerance)}`,
  )
  return [{ label: 'Precision from three units', value: `in tolerances: ${units.join(', ')}` }]
}

function tolerancePassed(explanation: Explanation, { forecast, known }: RecommendationData): string {
  const foretold = forecast === null ? undefined : `${sayForecast(forecast)}, as foretold ${sayTime(known)}`
  if (Math.abs(biasNow(explanation)?.ofTolerance ?? 0) < 1) return foretold ?? sayForecast(null)
  return `by the present estimate it is passed${foretold === undefined ? '' : `; ${foretold}`}`
}

function trueValues(recommendation: RecommendationData | undefined): readonly Fact[] {
  return (recommendation?.bias?.trueAtActionLevels ?? []).map(({ shownNtu, trueNtu }) => ({
    label: `When it shows ${sayNumber(shownNtu)} NTU`,
    value: `the water is probably at ${sayNumber(trueNtu)} NTU`,
  }))
}

function modelFacts(recommendation: RecommendationData | undefined): readonly Fact[] {
  if (recommendation?.model === undefined) return []
  const { zeroNtu, spanRel } = recommendation.model
  return [
    { label: 'Zero error', value: estimate(zeroNtu, saySigned, ' NTU') },
    { label: 'Span error', value: estimate(spanRel, sayPercent, ' %') },
  ]
}

/** An interval from zero to zero: no explanation with such an error has weight left. */
function estimate(
  { value, ci95: [lower, upper] }: NonNullable<RecommendationData['model']>['zeroNtu'],
  say: (value: number) => string,
  unit: string,
): string {
  if (Number(say(lower)) === 0 && Number(say(upper)) === 0) return 'no sign of one'
  return `${say(value)}${unit}, 95 % interval ${say(lower)} to ${say(upper)}${unit}`
}
