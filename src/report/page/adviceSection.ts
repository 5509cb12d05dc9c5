import type { Explanation } from '../../core/explanation.js'
import type { RecommendationData } from '../../model/events.js'
import { type Markup, markup } from '../markup.js'
import { isNotWorked, liveRecommendation, sayRespondBy, sayStandard, sayTarget, sayTime, sayUrgency } from '../say.js'
import { ACTION_TEXT, ANSWER_TEXT, NOT_ASSESSED_TEXT, PHASE_TEXT } from '../words.js'

/** What to do, with cautions before the steps; or that nothing is asked. */
export function adviceSection(explanation: Explanation): Markup {
  const live = liveRecommendation(explanation)
  if (live === undefined) return nothingAsked(explanation)
  return markup`<section aria-labelledby="do">
<h2 id="do">What to do</h2>
${live.phase === 'awaiting_proof' ? proofAwaited(explanation) : request(live, explanation)}
<p class="meta">${lifeOf(live)}</p>
</section>`
}

function nothingAsked({ recommendation, status }: Explanation): Markup {
  const last =
    recommendation === undefined
      ? undefined
      : markup`<p>The last request, “${ACTION_TEXT[recommendation.action]}” of ${sayTime(recommendation.openedAt)}, is closed${
          recommendation.reason === undefined ? undefined : `: ${recommendation.reason}`
        }.</p>`
  return markup`<section aria-labelledby="do">
<h2 id="do">What to do</h2>
<p class="action">${isNotWorked(status) ? NOT_ASSESSED_TEXT : 'Nothing is asked for this analyzer now.'}</p>
${last}
${missing(status.missing)}
</section>`
}

function lifeOf({ phase, answer, openedAt, known, revision, reason }: RecommendationData): string {
  const why = reason === undefined ? '' : ` Last change: ${reason}`
  return (
    `Opened ${sayTime(openedAt)}; deciding fact known ${sayTime(known)}; revision ${String(revision)}; ` +
    `${PHASE_TEXT[phase]}; ${ANSWER_TEXT[answer]}.${why}`
  )
}

function request(live: RecommendationData, explanation: Explanation): Markup {
  return markup`<p class="action">${ACTION_TEXT[live.action]}: ${sayTarget(live.target)}</p>
<p><strong>${sayRespondBy(live, explanation)}</strong> ${sayUrgency(live)}</p>
${procedure(live, explanation.atMs)}`
}

function proofAwaited({ status }: Explanation): Markup {
  return markup`<p class="action">No further step now.</p>
<p>The work is on record. Whether it helped is judged from readings that follow; no further step is asked until then.</p>
${missing(status.missing)}`
}

function procedure({ procedure: { steps, cautions, standard } }: RecommendationData, atMs: number): Markup {
  return markup`${
    cautions.length === 0
      ? undefined
      : markup`<div class="cautions" role="note" aria-labelledby="cautions">
<h3 id="cautions"><span aria-hidden="true">⚠ </span>Cautions</h3>
<ul>${cautions.map(caution => markup`<li>${caution}</li>`)}</ul>
</div>`
  }
${standard === undefined ? undefined : markup`<p><strong>${sayStandard(standard, atMs)}.</strong></p>`}
<h3>Steps, in this order</h3>
<ol class="steps">${steps.map(step => markup`<li>${step}</li>`)}</ol>`
}

function missing(sentences: readonly string[]): Markup | undefined {
  if (sentences.length === 0) return undefined
  return markup`<h3>What would make the answer firmer</h3>
<ul>${sentences.map(sentence => markup`<li>${sentence}</li>`)}</ul>`
}
