import { plannedTimes } from '../diagnose/sampleTimes.js'
import type { GrabPlan } from '../model/plant.js'
import { formatInstant, HOUR_MS, MINUTE_MS } from '../model/time.js'
import type { PointContext } from './context.js'
import type { LoggedPair, PointState } from './pointState.js'

/** What was found out about the times of sampling at a point, and from when on it counts. */
export interface PlannedSampling {
  readonly sinceMs: number
  /** Minute of the hour on which the planned times stand. */
  readonly minute: number
  readonly timeUncertaintyS: number
}

/** The plan for a sample: a time that stands where the planned ones do is as uncertain as they were found to be. */
export function planFor(plan: GrabPlan, planned: PlannedSampling | null, sampledMs: number): GrabPlan {
  if (planned === null || sampledMs <= planned.sinceMs || sampledMs % HOUR_MS !== planned.minute * MINUTE_MS)
    return plan
  return { ...plan, timeUncertaintyS: Math.max(plan.timeUncertaintyS, planned.timeUncertaintyS) }
}

/** Looks, once a pair has been charted, whether the times of sampling look planned; said once. */
export function lookAtTimes(context: PointContext, state: PointState, pair: LoggedPair): void {
  const { fold } = state
  const { point } = context
  if (fold.plannedTimes !== null) return
  const found = plannedTimes(state.pairs, point.grab.timeUncertaintyS)
  if (found === undefined) return
  const { minute, timeUncertaintyS, pairs } = found
  fold.plannedTimes = { sinceMs: pair.atMs, minute, timeUncertaintyS }
  const minutes = String(Math.round(timeUncertaintyS / 60))
  const stated = String(Math.round(point.grab.timeUncertaintyS / 60))
  fold.notes.push({
    key: `sample times ${point.id} ${String(pair.atMs)}`,
    atMs: pair.dueMs,
    type: 'reference.suspect',
    data: {
      summary: `${point.id}: sample times look planned, not actual: all of ${String(pairs)} grabs stand at minute ${clock(minute)} and their scatter follows the rate of change; ${minutes} min of uncertainty count from now on (${stated} before): note times to the minute.`,
      notify: 'shift_summary',
      reference: 'grab',
      point: point.id,
      at: formatInstant(pair.atMs),
      because: [
        `all of the last ${String(pairs)} samples were taken at minute ${clock(minute)} of an hour, by their labels`,
        `analyzer minus grab scatters as the level moves: as times uncertain by ${minutes} min would make it, not as noise of the analyzer would`,
      ],
      ask: 'write down when the bottle was filled, to the minute; such times count with their usual uncertainty',
    },
  })
}

function clock(minute: number): string {
  return String(minute).padStart(2, '0')
}
