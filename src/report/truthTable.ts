import type { PlantEvent } from '../model/events.js'
import { DAY_MS, parseInstant } from '../model/time.js'
import type { Expectation, FaultTruth } from '../simulate/faultTruth.js'
import type { SimulationTruth } from '../simulate/truth.js'
import {
  hasCause,
  hasLikeliestCause,
  hasTarget,
  isJustified,
  isRecommendation,
  matchesButForCause,
  pointsOf,
  type RecommendationEvent,
} from './truthMatch.js'

/** `not_due`: the record ends before the time allowed for saying it. */
export type Verdict = 'ok' | 'missed' | 'wrong' | 'not_due'

/** One fault of the simulated plant beside what the service made of it. */
export interface TruthRow {
  readonly fault: string
  readonly at: string
  readonly expected: string
  readonly got: string
  readonly verdict: Verdict
  /** Plant time of the first opening that answers the fault, RFC 3339. */
  readonly openedAt?: string
  /** Signed bias the service stated when it opened, in tolerances. */
  readonly biasAtOpening?: number
  /** From the opening to the day a growing bias passes the tolerance; negative where it was late, absent for a step. */
  readonly daysBeforeTolerance?: number
  /** The likeliest cause is right, or undecided with the right one named. */
  readonly causeRight?: boolean
}

export interface TruthTable {
  readonly rows: readonly TruthRow[]
  /** Openings that nothing at the plant justifies. */
  readonly falseOpenings: readonly RecommendationEvent[]
}

const OPENED = 'recommendation.opened'

/** Sets what was published beside what really happened. Events in the order they were published. */
export function truthTable(events: readonly PlantEvent[], truth: SimulationTruth): TruthTable {
  const openings = events.filter(isRecommendation).filter(event => event.type === OPENED)
  const pointOf = pointsOf(events)
  return {
    rows: truth.faults.map(fault => rowOf(fault, events, truth.end)),
    falseOpenings: openings.filter(event => !isJustified(event, truth.faults, pointOf)),
  }
}

function rowOf(fault: FaultTruth, events: readonly PlantEvent[], end: string): TruthRow {
  const answers = fault.mustSay.map(wanted => answerTo(wanted, events, end))
  const forbidden = fault.mustNotSay.flatMap(wanted =>
    events.filter(event => matchesButForCause(event, wanted) && hasLikeliestCause(event, wanted.causes)).slice(0, 1),
  )
  const verdicts = answers.map(answer => answer.verdict)
  const verdict = forbidden.length > 0 ? 'wrong' : (WORST_FIRST.find(each => verdicts.includes(each)) ?? 'ok')
  return {
    fault: fault.id,
    at: fault.analyzer ?? fault.point ?? fault.laboratoryInstrument ?? '',
    expected: fault.mustSay.length === 0 ? 'nothing' : fault.mustSay.map(sayExpectation).join('; '),
    got: sayGot(answers, forbidden),
    verdict,
    ...openingOf(fault, answers),
  }
}

interface Answer {
  readonly wanted: Expectation
  readonly verdict: Verdict
  /** The event that answers, or the nearest to an answer. */
  readonly event?: PlantEvent
}

const WORST_FIRST: readonly Verdict[] = ['wrong', 'missed', 'not_due']

function answerTo(wanted: Expectation, events: readonly PlantEvent[], end: string): Answer {
  const near = events.filter(event => matchesButForCause(event, wanted))
  const right = near.find(event => hasCause(event, wanted.causes))
  if (right !== undefined) return { wanted, verdict: 'ok', event: right }
  if (near[0] !== undefined) return { wanted, verdict: 'wrong', event: near[0] }
  if (wanted.before !== undefined && wanted.before > end) return { wanted, verdict: 'not_due' }
  const { actions: _actions, before: _before, ...looser } = wanted
  const other = events.find(event => matchesButForCause(event, looser))
  return other === undefined ? { wanted, verdict: 'missed' } : { wanted, verdict: 'missed', event: other }
}

function openingOf(fault: FaultTruth, answers: readonly Answer[]): Partial<TruthRow> {
  const answer = answers.find(({ wanted }) => wanted.event === OPENED)
  const event = answer?.event
  if (event === undefined || !isRecommendation(event)) return {}
  const passedMs = growsPastTolerance(fault) ? parseInstant(fault.tolerancePassedAt!) : undefined
  return {
    openedAt: event.time,
    ...(event.data.bias === undefined ? {} : { biasAtOpening: event.data.bias.ofTolerance }),
    ...(passedMs === undefined ? {} : { daysBeforeTolerance: (passedMs - parseInstant(event.time)!) / DAY_MS }),
    causeRight: hasCause(event, answer?.wanted.causes),
  }
}

function sayExpectation({ event, actions, finding, causes }: Expectation): string {
  if (event === 'analyzer.finding') return `finding ${finding ?? 'any'}`
  if (event === 'reference.suspect') return `suspect ${causes?.join(' or ') ?? 'reference'}`
  const what = event === OPENED ? '' : `${event.replace('recommendation.', '')} `
  return `${what}${actions?.join(' or ') ?? ''}`.trim()
}

function sayGot(answers: readonly Answer[], forbidden: readonly PlantEvent[]): string {
  const said = answers.map(({ event, verdict }) => {
    if (event === undefined) return verdict === 'not_due' ? 'not due yet' : '—'
    return verdict === 'missed' ? `${sayEvent(event)} (too late or another action)` : sayEvent(event)
  })
  const unwanted = forbidden.map(event => `unwanted: ${sayEvent(event)}`)
  return [...said, ...unwanted].join('; ') || 'nothing'
}

function sayEvent(event: PlantEvent): string {
  if (isRecommendation(event)) {
    const what = event.type === OPENED ? '' : `${event.type.replace('recommendation.', '')} `
    return `${what}${event.data.action} (${event.data.cause.ranked[0]?.cause ?? 'no cause'})`
  }
  if (event.type === 'analyzer.finding') return `finding ${event.data.finding}`
  return event.type === 'reference.suspect' ? `suspect ${event.data.reference}` : event.type
}

/** One run in numbers; sums over runs are taken field by field. */
export interface RunScore {
  /** Faults that ask for a recommendation, and whose time for it lies within the record. */
  readonly faults: number
  /** … that were answered by any opening at their target while they lasted. */
  readonly found: number
  /** Faults whose bias grows past the tolerance, and those opened before it did. */
  readonly passing: number
  readonly beforeTolerance: number
  /** Of those found: likeliest cause right, or undecided with the right one named. */
  readonly rightCause: number
  /** Rows of the table that are wholly right. */
  readonly rowsOk: number
  readonly rows: number
  readonly falseOpenings: number
  /** Analyzers watched, times years. */
  readonly analyzerYears: number
}

/** A step that is past the tolerance within a day of its onset leaves no time to tell it before. */
function growsPastTolerance({ onset, tolerancePassedAt }: FaultTruth): boolean {
  return tolerancePassedAt !== null && parseInstant(tolerancePassedAt)! - parseInstant(onset)! >= DAY_MS
}

/** Counts for a benchmark over many seeds. */
export function scoreRun(events: readonly PlantEvent[], truth: SimulationTruth): RunScore {
  const { rows, falseOpenings } = truthTable(events, truth)
  const asked = truth.faults.flatMap((fault, index) => {
    const wanted = fault.mustSay.find(each => each.event === OPENED)
    if (wanted === undefined || rows[index]!.verdict === 'not_due') return []
    const opening = firstOpening(events, fault, wanted)
    return [{ fault, wanted, opening }]
  })
  const passing = asked.filter(({ fault }) => growsPastTolerance(fault))
  return {
    faults: asked.length,
    found: asked.filter(({ opening }) => opening !== undefined).length,
    passing: passing.length,
    beforeTolerance: passing.filter(
      ({ fault, opening }) => opening !== undefined && opening.time < fault.tolerancePassedAt!,
    ).length,
    rightCause: asked.filter(({ opening, wanted }) => opening !== undefined && hasCause(opening, wanted.causes)).length,
    rowsOk: rows.filter(row => row.verdict === 'ok').length,
    rows: rows.filter(row => row.verdict !== 'not_due').length,
    falseOpenings: falseOpenings.length,
    analyzerYears: (Object.keys(truth.biasDaily).length * truth.days) / 365.25,
  }
}

function firstOpening(
  events: readonly PlantEvent[],
  fault: FaultTruth,
  { target }: Expectation,
): RecommendationEvent | undefined {
  return events
    .filter(isRecommendation)
    .find(
      event =>
        (event.type === OPENED || event.type === 'recommendation.reopened') &&
        (target === undefined || hasTarget(event, target)) &&
        event.time >= fault.onset &&
        (fault.ends === null || event.time <= fault.ends),
    )
}
