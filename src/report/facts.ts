import type { Explanation } from '../core/explanation.js'
import type { RecommendationData } from '../model/events.js'
import { formatInstant } from '../model/time.js'
import {
  liveRecommendation,
  sayBias,
  sayBiasOfTolerance,
  sayForecast,
  sayNumber,
  sayOnset,
  sayPercent,
  saySigned,
  sayTime,
} from './say.js'
import { ASSESSMENT_TEXT, FINDING_TEXT } from './words.js'

export interface Fact {
  readonly label: string
  readonly value: string
}

/** The numbers of an explanation, in the order in which they are read, for page and terminal alike. */
export function factsOf(explanation: Explanation): readonly Fact[] {
  const { status } = explanation
  const recommendation = liveRecommendation(explanation)
  const bias = recommendation?.bias ?? status.bias
  return [
    ...(bias === undefined
      ? [{ label: 'Bias', value: 'cannot be told: nothing independent to compare with' }]
      : [
          { label: 'Bias', value: sayBias(bias) },
          { label: 'Bias in tolerances', value: sayBiasOfTolerance(bias) },
        ]),
    { label: 'Tolerance', value: explanation.toleranceText },
    ...trueValues(recommendation),
    ...modelFacts(recommendation),
    ...onsetFact(explanation, recommendation),
    ...(recommendation?.bias === undefined
      ? []
      : [{ label: 'Tolerance passed', value: sayForecast(recommendation.forecast) }]),
    { label: 'Assessment', value: `${ASSESSMENT_TEXT[status.assessment]}, since ${sayTime(status.since)}` },
    ...(status.findings.length === 0
      ? []
      : [{ label: 'Findings', value: status.findings.map(finding => FINDING_TEXT[finding]).join('; ') }]),
    {
      label: 'Last independent evidence',
      value: status.lastIndependentEvidence === undefined ? 'none' : sayTime(status.lastIndependentEvidence),
    },
  ]
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
    {
      label: 'Zero error',
      value: `${saySigned(zeroNtu.value)} NTU, 95 % interval ${saySigned(zeroNtu.ci95[0])} to ${saySigned(zeroNtu.ci95[1])} NTU`,
    },
    {
      label: 'Span error',
      value: `${sayPercent(spanRel.value)} %, 95 % interval ${sayPercent(spanRel.ci95[0])} to ${sayPercent(spanRel.ci95[1])} %`,
    },
  ]
}

function onsetFact(explanation: Explanation, recommendation: RecommendationData | undefined): readonly Fact[] {
  if (recommendation?.onset !== undefined) return [{ label: 'Onset', value: sayOnset(recommendation.onset) }]
  if (explanation.onset === undefined) return []
  const { estimateMs, earliestMs, latestMs } = explanation.onset
  const onset = {
    estimate: formatInstant(estimateMs),
    latest: formatInstant(latestMs),
    ...(earliestMs === undefined ? {} : { earliest: formatInstant(earliestMs) }),
  }
  return [{ label: 'Onset', value: sayOnset(onset) }]
}
