import type { PlantEvent, RecommendationData } from '../model/events.js'
import type { Plant } from '../model/plant.js'
import { formatInstant } from '../model/time.js'
import { andLate } from './changeReason.js'
import { emit } from './emit.js'
import type { LateFacts } from './lateFacts.js'
import type { PlantState, PublishedCase } from './plantState.js'
import type { CaseEnd } from './pointState.js'
import { countOutcome } from './scorecard.js'

const LONGEST_SENTENCE = 240

/** Ends a published request: put right and proven, or no longer borne out; what it was last stays for `explain`. */
export function close(
  state: PlantState,
  plant: Plant,
  known: PublishedCase,
  ended: CaseEnd | null,
  nowMs: number,
  late: LateFacts | undefined,
): PlantEvent {
  state.published.cases.delete(known.target)
  // An end from before this opening belongs to an earlier request about the same target.
  const own = ended !== null && ended.atMs + plant.latenessMs >= known.openedMs ? ended : null
  const { how, reason } = own ?? { how: 'withdrawn', reason: 'it no longer follows from what is known now' }
  const because = andLate(reason, late)
  const data: RecommendationData = {
    ...known.data,
    summary: closingSentence(`${nameOf(known.target)}: request ${how}`, reason, late),
    phase: 'closed',
    revision: known.revision + 1,
    notify: 'shift_summary',
    ...(late === undefined ? {} : { known: formatInstant(nowMs) }),
    reason: because,
    ...(own?.outcome === undefined ? {} : { outcome: own.outcome }),
  }
  countOutcome(state, known, own?.outcome)
  state.published.closed.set(known.target, data)
  return emit(state, how === 'closed' ? 'recommendation.closed' : 'recommendation.withdrawn', known.target, nowMs, data)
}

/** With the late facts by name where the sentence still fits, else by their number; the reason names them. */
function closingSentence(begin: string, reason: string, late: LateFacts | undefined): string {
  const whole = `${begin}: ${andLate(reason, late)}.`
  if (late === undefined || whole.length <= LONGEST_SENTENCE) return whole
  return `${begin}: ${reason}, since ${late.brief} came in.`
}

/** "FE3-B", "Point FE3", "Laboratory BENCH-1". */
function nameOf(target: string): string {
  return target.replace(/^point:/, 'Point ').replace(/^laboratory:/, 'Laboratory ')
}
