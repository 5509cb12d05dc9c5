import type { PlantEvent, RecommendationData } from '../model/events.js'
import { DAY_MS, parseInstant } from '../model/time.js'
import type { Cause } from '../model/vocabulary.js'
import type { Expectation, FaultTruth, Target } from '../simulate/faultTruth.js'

/** An event about a recommendation: the ones that carry an action, a cause and a bias. */
export type RecommendationEvent = PlantEvent & { readonly data: RecommendationData }

export function isRecommendation(event: PlantEvent): event is RecommendationEvent {
  return event.type.startsWith('recommendation.')
}

/** Type, target, time and whatever else is asked for; the cause apart, for a right call may have a wrong reason. */
export function matchesButForCause(event: PlantEvent, wanted: Expectation): boolean {
  if (event.type !== wanted.event && wanted.orEvent?.includes(event.type) !== true) return false
  if (wanted.after !== undefined && event.time < wanted.after) return false
  if (wanted.before !== undefined && event.time > wanted.before) return false
  if (wanted.target !== undefined && !hasTarget(event, wanted.target)) return false
  if (wanted.actions !== undefined && !(isRecommendation(event) && wanted.actions.includes(event.data.action)))
    return false
  const data = event.data as { readonly finding?: string; readonly sampleId?: string }
  if (wanted.finding !== undefined && data.finding !== wanted.finding) return false
  return wanted.sampleId === undefined || data.sampleId === wanted.sampleId
}

/** True where no cause is asked for, where the likeliest one is right, or where `undecided` names the right one. */
export function hasCause(event: PlantEvent, causes: readonly string[] | undefined): boolean {
  if (causes === undefined) return true
  if (event.type === 'reference.suspect') return causes.includes(SUSPECT_CAUSE[event.data.reference])
  if (!isRecommendation(event)) return false
  const { ranked } = event.data.cause
  const [first, ...others] = ranked
  if (first === undefined) return false
  return (
    causes.includes(first.cause) || (first.cause === 'undecided' && others.some(({ cause }) => causes.includes(cause)))
  )
}

/** The strict reading, for what must not be said: the likeliest cause only. */
export function hasLikeliestCause(event: PlantEvent, causes: readonly string[] | undefined): boolean {
  if (causes === undefined || event.type === 'reference.suspect') return hasCause(event, causes)
  return isRecommendation(event) && causes.includes(event.data.cause.ranked[0]?.cause ?? '')
}

const SUSPECT_CAUSE: Readonly<Record<'grab' | 'laboratory' | 'standard' | 'zero_water' | 'work_record', Cause | ''>> = {
  grab: 'grab_bad',
  laboratory: 'laboratory_bias',
  standard: 'standard_bad',
  zero_water: 'zero_reference_bad',
  work_record: '',
}

export function hasTarget(event: PlantEvent, target: Target): boolean {
  const of: { readonly [K in keyof Target]?: string | undefined } = isRecommendation(event)
    ? event.data.target
    : (event.data as Target)
  return (['analyzer', 'point', 'laboratoryInstrument'] as const).every(
    key => target[key] === undefined || of[key] === target[key],
  )
}

/** Openings that are no false alarm: while a fault lasts, and three days longer. */
const AFTERMATH_MS = 3 * DAY_MS

/**
 * Whether an opening is justified by a fault: at its target with an action of its list, or at the point of its
 * analyzer while it is open which unit there is wrong.
 */
export function isJustified(
  opened: RecommendationEvent,
  faults: readonly FaultTruth[],
  pointOf: ReadonlyMap<string, string>,
): boolean {
  return faults.some(fault => {
    const endsMs = fault.ends === null ? Infinity : parseInstant(fault.ends)! + AFTERMATH_MS
    if (opened.time < fault.onset || parseInstant(opened.time)! > endsMs) return false
    return fault.mayOpen.some(({ target, actions }) => {
      if (hasTarget(opened, target)) return actions.includes(opened.data.action)
      const { analyzer, point } = opened.data.target
      return analyzer === undefined && target.analyzer !== undefined && point === pointOf.get(target.analyzer)
    })
  })
}

/** Point of each analyzer, as far as the events tell. */
export function pointsOf(events: readonly PlantEvent[]): ReadonlyMap<string, string> {
  const points = new Map<string, string>()
  for (const event of events) {
    const { analyzer, point } = event.data as { readonly analyzer?: string; readonly point?: string }
    if (analyzer !== undefined && point !== undefined) points.set(analyzer, point)
  }
  return points
}
