import type { RecommendationData } from '../../model/events.js'
import { URGENCIES } from '../../model/vocabulary.js'
import { sayTarget, sayTime } from '../say.js'
import { ACTION_TEXT, ANSWER_TEXT, PHASE_TEXT } from '../words.js'
import { textTable } from './textTable.js'

const COLUMNS = [
  { head: 'For', width: 18 },
  { head: 'What to do', width: 22 },
  { head: 'Urgency', width: 8 },
  { head: 'Respond by', width: 13 },
  { head: 'State', width: 23 },
]

/** Requests that are open or await proof, the most urgent first: each with its sentence, and the id that an answer must name. */
export function openRecommendationsTable(open: readonly RecommendationData[]): string {
  if (open.length === 0) return 'Nothing is asked of anybody now.'
  return textTable(
    COLUMNS,
    [...open]
      .sort(mostUrgentFirst)
      .flatMap(recommendation => [
        [
          sayTarget(recommendation.target),
          ACTION_TEXT[recommendation.action],
          recommendation.urgency,
          sayTime(recommendation.respondBy),
          `${PHASE_TEXT[recommendation.phase]}; ${ANSWER_TEXT[recommendation.answer]}`,
        ],
        `${recommendation.summary} [${recommendation.recommendation}]`,
      ]),
  )
}

function mostUrgentFirst(a: RecommendationData, b: RecommendationData): number {
  const byUrgency = URGENCIES.indexOf(a.urgency) - URGENCIES.indexOf(b.urgency)
  return byUrgency !== 0 ? byUrgency : a.respondBy < b.respondBy ? -1 : 1
}
