import type { PlantEvent } from '../model/events.js'
import type { Response } from '../model/messages.js'
import { DAY_MS, sayInstant } from '../model/time.js'
import { emit } from './emit.js'
import type { PlantState, PublishedCase } from './plantState.js'
import { linesOf } from './publishCase.js'

/** A rejection holds this long, or until there is more to say. */
const REJECTION_MS = 14 * DAY_MS

/** Takes the responses given up to the end of the block, in canonical order; the others wait for theirs. */
export function answerResponses(state: PlantState, endMs: number, nowMs: number): PlantEvent[] {
  const responses = state.responses
    .filter(one => one.atMs < endMs)
    .sort((a, b) => a.atMs - b.atMs || (a.recommendation + a.decision < b.recommendation + b.decision ? -1 : 1))
  state.responses = state.responses.filter(one => one.atMs >= endMs)
  return responses.flatMap(response => {
    const known = [...state.published.cases.values()].find(one => one.id === response.recommendation)
    return known === undefined ? [] : [answer(state, known, response, nowMs)]
  })
}

function answer(state: PlantState, known: PublishedCase, response: Response, nowMs: number): PlantEvent {
  known.answer = response.decision
  known.answerReason = response.reason ?? null
  known.answerUntilMs =
    response.decision === 'deferred'
      ? (response.untilMs ?? null)
      : response.decision === 'rejected'
        ? response.atMs + REJECTION_MS
        : null
  known.answeredAt = { ofTolerance: known.data.bias?.ofTolerance ?? 0, lines: linesOf(known.data) }
  known.revision += 1
  const until = known.answerUntilMs === null ? '' : ` until ${sayInstant(known.answerUntilMs)}`
  const reason = `${response.decision}${until}${response.reason === undefined ? '' : `: ${response.reason}`}`
  known.data = { ...known.data, answer: known.answer, revision: known.revision, notify: 'shift_summary', reason }
  return emit(state, 'recommendation.answered', known.target, nowMs, known.data)
}
