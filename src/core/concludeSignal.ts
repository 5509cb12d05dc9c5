import type { FindingKind, Urgency } from '../model/vocabulary.js'
import { DAY_MS } from '../model/time.js'
import { FINDING_WORDS } from '../recommend/summary.js'
import type { PointContext } from './context.js'
import type { PointFold } from './pointState.js'

/** After this a finding about the signal or the sample becomes a request, without any chart. */
const PATIENCE_MS = DAY_MS

/** Findings that make a request, in the order in which they are looked at. */
const REQUESTS: readonly (readonly [
  FindingKind,
  'check_signal' | 'check_sample_line',
  'signal_path' | 'bubbles' | 'sample_line',
])[] = [
  ['stuck', 'check_signal', 'signal_path'],
  ['silent', 'check_signal', 'signal_path'],
  ['bad_quality', 'check_signal', 'signal_path'],
  ['no_flow', 'check_sample_line', 'sample_line'],
  ['bubbles', 'check_sample_line', 'bubbles'],
]

/** Opens and closes requests about the signal or the sample of one unit. A bias case has the word while it is open. */
export function concludeSignal(context: PointContext, fold: PointFold, i: number, endMs: number): void {
  const unit = fold.units[i]
  const analyzer = context.analyzers[i]
  if (analyzer === undefined || unit === undefined) return
  const found = REQUESTS.find(([finding]) => unit.findings[finding] !== undefined && !isExplained(finding, fold))
  const isSignal = unit.case !== null && unit.case.kind !== 'bias'
  if (found === undefined) {
    if (!isSignal) return
    const reason = unit.case?.finding === 'bubbles' ? 'the bubbles are gone' : 'the readings are usable again'
    unit.case = null
    unit.ended = { atMs: endMs, how: 'closed', reason }
    return
  }
  const [finding, action, cause] = found
  const sinceMs = unit.findings[finding] ?? endMs
  if (isSignal && unit.case !== null) unit.case.urgency = urgency(context, fold)
  if (unit.case !== null || endMs - sinceMs < PATIENCE_MS) return
  unit.ended = null
  unit.case = {
    target: { analyzer: analyzer.id, point: null, laboratoryInstrument: null },
    kind: action === 'check_signal' ? 'signal' : 'sample_line',
    phase: 'open',
    openedMs: endMs,
    action,
    causes: [{ cause, probability: 1 }],
    because: [FINDING_WORDS[finding] ?? finding],
    finding,
    urgency: urgency(context, fold),
    estimate: null,
    sinceMs,
    pendingAction: null,
  }
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
