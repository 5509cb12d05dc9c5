import { roundTo } from '../model/rounding.js'
import { DAY_MS, sayInstant } from '../model/time.js'
import type { Action, FindingKind, Urgency } from '../model/vocabulary.js'
import type { Case, RankedCause } from '../recommend/case.js'
import { type NamedCause, nextTest } from '../recommend/nextTest.js'
import { CAUSE_WORDS, FINDING_WORDS, WORK_WORDS } from '../recommend/summary.js'
import type { PointContext } from './context.js'
import type { PointFold, UnitFold } from './pointState.js'

/** After this a finding about the signal or the sample becomes a request, without any chart. */
const PATIENCE_MS = DAY_MS

/** A finding that makes a request. */
interface Request {
  readonly finding: FindingKind
  readonly action: Action
  readonly cause: NamedCause
  /** What else it might be, where the finding itself is no proof. */
  readonly besides?: NamedCause
  /** It shows an error of the analyzer's values: nothing is adjusted before it has been looked into. */
  readonly isBeforeBias?: true
  readonly over: string
}

const USABLE = 'the readings are usable again'

/** In the order in which they are looked at. */
const REQUESTS: readonly Request[] = [
  { finding: 'stuck', action: 'check_signal', cause: 'signal_path', over: USABLE },
  { finding: 'silent', action: 'check_signal', cause: 'signal_path', over: USABLE },
  { finding: 'bad_quality', action: 'check_signal', cause: 'signal_path', over: USABLE },
  {
    finding: 'display_differs',
    action: 'check_signal',
    cause: 'signal_path',
    isBeforeBias: true,
    over: 'display and record agree',
  },
  {
    finding: 'exact_factor',
    action: 'check_signal',
    cause: 'signal_path',
    besides: 'span_drift',
    isBeforeBias: true,
    over: 'the values are back at their scale, or the display shows them too',
  },
  { finding: 'no_flow', action: 'check_sample_line', cause: 'sample_line', over: USABLE },
  {
    finding: 'follows_daylight',
    action: 'inspect',
    cause: 'stray_light',
    besides: 'zero_drift',
    isBeforeBias: true,
    over: 'day and night agree again, or another visit was made',
  },
  { finding: 'bubbles', action: 'check_sample_line', cause: 'bubbles', over: 'the bubbles are gone' },
]

/** Probability of the cause where something else is left beside it. */
const LIKELY = 0.95

/** Whether something was found that has to be looked into before a bias of the unit is: no zero or span before that. */
export function comesBeforeBias({ findings }: UnitFold): boolean {
  return REQUESTS.some(({ finding, isBeforeBias }) => isBeforeBias === true && findings[finding] !== undefined)
}

/** Opens and closes requests about the signal or the sample of one unit. A bias case has the word while it is open. */
export function concludeSignal(context: PointContext, fold: PointFold, i: number, endMs: number): void {
  const unit = fold.units[i]
  const analyzer = context.analyzers[i]
  if (analyzer === undefined || unit === undefined) return
  const found = REQUESTS.find(({ finding }) => unit.findings[finding] !== undefined && !isExplained(finding, fold))
  const isSignal = unit.case !== null && unit.case.kind !== 'bias'
  if (found === undefined) {
    if (!isSignal) return
    const reason = REQUESTS.find(({ finding }) => finding === unit.case?.finding)?.over ?? USABLE
    unit.case = null
    unit.ended = { atMs: endMs, how: 'closed', reason }
    return
  }
  const { finding, action } = found
  const sinceMs = unit.findings[finding] ?? endMs
  if (isSignal && unit.case !== null) {
    unit.case.urgency = urgency(context, fold)
    const asked = unit.case.finding
    if (asked !== null && unit.findings[asked] === undefined) followOn(unit, unit.case, found, asked, sinceMs, endMs)
    return
  }
  if (unit.case !== null || (found.isBeforeBias !== true && endMs - sinceMs < PATIENCE_MS)) return
  unit.ended = null
  unit.case = {
    target: { analyzer: analyzer.id, point: null, laboratoryInstrument: null },
    kind: action === 'check_sample_line' ? 'sample_line' : 'signal',
    phase: 'open',
    openedMs: endMs,
    action,
    causes: causesOf(found),
    because: becauseOf(found, unit),
    finding,
    urgency: urgency(context, fold),
    estimate: null,
    sinceMs,
    pendingAction: null,
  }
}

/** What was asked for is over and something else is found: the same request for another reason, or the end of it. */
function followOn(
  unit: UnitFold,
  open: Case,
  found: Request,
  asked: FindingKind,
  sinceMs: number,
  endMs: number,
): void {
  const { finding, action } = found
  if (action === open.action) {
    unit.case = { ...open, finding, sinceMs, causes: causesOf(found), because: becauseOf(found, unit) }
    return
  }
  const [was, is] = [asked, finding].map(one => FINDING_WORDS[one] ?? one)
  unit.case = null
  unit.ended = { atMs: endMs, how: 'closed', reason: `"${was}" is over; what is found now is "${is}"` }
}

function causesOf({ cause, besides }: Request): RankedCause[] {
  if (besides === undefined) return [{ cause, probability: 1 }]
  return [
    { cause, probability: LIKELY },
    { cause: besides, probability: roundTo(1 - LIKELY, 3) },
  ]
}

function becauseOf({ finding, cause, besides }: Request, unit: UnitFold): string[] {
  const test = besides === undefined ? undefined : nextTest(cause, besides, one => CAUSE_WORDS[one])
  return [FINDING_WORDS[finding] ?? finding, ...visitsOf(finding, unit), ...(test === undefined ? [] : [test.text])]
}

/** With which visit it began, or that there was none. */
function visitsOf(finding: FindingKind, { works }: UnitFold): string[] {
  const last = works.at(-1)
  if (finding === 'follows_daylight' && last !== undefined)
    return [`it began with the visit of ${sayInstant(last.atMs)} (${WORK_WORDS[last.action]})`]
  return finding === 'exact_factor' ? ['no work is on record in the six hours before'] : []
}

/** A filter at rest has no sample flow, and nobody needs to look for it. */
function isExplained(finding: FindingKind, fold: PointFold): boolean {
  return finding === 'no_flow' && fold.inferred.hold?.shape === 'rest'
}

/** `now` where the point is used and no usable unit is left at it. */
function urgency({ point }: PointContext, fold: PointFold): Urgency {
  if (fold.findings.no_usable_unit !== undefined) return 'now'
  return point.regulated || point.controlling ? 'soon' : 'routine'
}
