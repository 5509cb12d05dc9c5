import type { Work } from '../model/messages.js'
import { formatInstant, sayInstant } from '../model/time.js'
import type { Contradiction } from '../recommend/contradiction.js'
import { WORK_WORDS } from '../recommend/summary.js'
import type { PointContext } from './context.js'
import type { PointState } from './pointState.js'

/** Tells what speaks against a work record, once. */
export function noteContradiction(
  context: PointContext,
  state: PointState,
  analyzer: string,
  work: Work,
  found: Contradiction,
): void {
  const text = `${found.text.charAt(0).toUpperCase()}${found.text.slice(1)}`
  const worth = found.effect === 'not_done' ? 'the work is not done' : 'it is no proof'
  state.fold.notes.push({
    key: `work ${analyzer} ${String(work.atMs)} ${work.action} ${found.text}`,
    atMs: work.atMs,
    type: 'reference.suspect',
    data: {
      summary: `${analyzer}, ${WORK_WORDS[work.action]} of ${sayInstant(work.atMs)}: ${found.text}; ${worth}: ${found.ask}.`,
      notify: 'shift_summary',
      reference: found.reference,
      analyzer,
      point: context.point.id,
      ...(found.standard === undefined ? {} : { standard: found.standard }),
      at: formatInstant(work.atMs),
      because: [text],
      ask: found.ask,
    },
  })
}
