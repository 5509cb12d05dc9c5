import type { FindingKind } from '../model/vocabulary.js'
import { DAY_MS } from '../model/time.js'
import { FINDING_WORDS } from '../recommend/summary.js'
import type { PointContext } from './context.js'
import type { UnitFold } from './pointState.js'

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
export function concludeSignal(context: PointContext, unit: UnitFold, i: number, endMs: number): void {
  const analyzer = context.analyzers[i]
  if (analyzer === undefined) return
  const found = REQUESTS.find(([finding]) => unit.findings[finding] !== undefined)
  const isSignal = unit.case !== null && unit.case.kind !== 'bias'
  if (found === undefined) {
    if (!isSignal) return
    unit.case = null
    unit.ended = { atMs: endMs, how: 'closed', reason: 'the readings are usable again' }
    return
  }
  const [finding, action, cause] = found
  const sinceMs = unit.findings[finding] ?? endMs
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
    urgency: context.point.regulated && context.point.analyzers.length === 1 ? 'soon' : 'routine',
    estimate: null,
    sinceMs,
    pendingAction: null,
  }
}
