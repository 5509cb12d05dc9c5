import { effectAt, type Kind } from '../diagnose/hypothesis.js'
import { foundOfTolerance, foundOutside, foundUOfTolerance } from '../compare/verification.js'
import type { UnitEstimate } from '../diagnose/estimate.js'
import type { Work } from '../model/messages.js'
import { roundTo } from '../model/rounding.js'
import { DAY_MS, sayInstant } from '../model/time.js'
import type { Cause, Line } from '../model/vocabulary.js'
import type { RankedCause } from '../recommend/case.js'
import type { Contradiction } from '../recommend/contradiction.js'
import { countsForProof } from '../recommend/proof.js'
import { sayNtu } from '../recommend/summary.js'
import type { PointContext } from './context.js'
import { endBias } from './endBias.js'
import type { PointState, UnitFold } from './pointState.js'
import { beginProof } from './workProof.js'

/** A cause less likely than this need not show in the check. */
const NEGLIGIBLE = 0.1
/** The same evidence asks again after this, or when it has grown by so many tolerances, or on another line. */
const HOLD_MS = 14 * DAY_MS
const GROWN = 0.5

/** What each cause adds to a reading at another level than it was seen at; those not named show in no standard. */
const KIND_OF: Partial<Record<Cause, Kind>> = {
  zero_drift: 'zero',
  zero_reference_bad: 'zero',
  span_drift: 'span',
  source_ageing: 'span',
  fouling: 'fouling',
}

/**
 * A verification on a reference that holds: evidence for work that awaits its proof; the repeat of work that was not
 * done; and, within its limit, the end of a request that the error it is about would have shown in.
 */
export function takeCheck(
  context: PointContext,
  state: PointState,
  unit: UnitFold,
  i: number,
  work: Work,
  contradictions: readonly Contradiction[],
): void {
  const check = unit.verifications.at(-1)
  if (contradictions.length > 0 || check?.atMs !== work.atMs || check.use !== 'used') return
  const { proof } = unit
  const { visit } = unit.work
  // Right after an adjustment, on what it was set by, a check only repeats as left.
  if (proof !== null && (visit === null || proof.workMs < visit.fromMs) && countsForProof(proof.action, check.type))
    proof.checks.push({ residual: foundOfTolerance(check), u: foundUOfTolerance(check) })
  const isWithin = Math.abs(check.foundNtu - check.assignedNtu) <= check.limitNtu
  if (unit.case?.kind !== 'bias' || unit.case.phase !== 'open' || !isWithin) return
  if (unit.case.notDone != null) {
    beginProof(unit, work, contradictions)
    return
  }
  const { estimate, causes } = unit.case
  if (estimate === null || !wouldShow(estimate, causes, check.assignedNtu, check.limitNtu)) return
  const lines = signallingLines(context, state, unit, i)
  unit.work.foundWithin = { atMs: work.atMs, ofTolerance: estimate.biasNtu.value / estimate.toleranceNtu, lines }
  unit.opening = { held: 0, laboratoryWaitMs: null }
  endBias(unit, {
    atMs: work.atMs,
    how: 'closed',
    outcome: 'found_within_limits',
    reason: `found within limits on ${sayInstant(work.atMs)}: ${sayCheck(check)}; ${sayMisled(lines)}`,
  })
}

/** Whether every likely cause would have put the reading in the reference outside its limit. */
function wouldShow(
  { biasNtu, levelNtu }: UnitEstimate,
  causes: readonly RankedCause[],
  assignedNtu: number,
  limitNtu: number,
): boolean {
  const likely = causes.filter(one => one.cause !== 'undecided' && one.probability >= NEGLIGIBLE)
  return (
    likely.length > 0 &&
    likely.every(({ cause }) => {
      const kind = KIND_OF[cause]
      const here = kind === undefined ? 0 : effectAt(kind, Math.max(0, levelNtu - biasNtu.value))
      if (kind === undefined || here === 0) return false
      return Math.abs((biasNtu.value * effectAt(kind, assignedNtu)) / here) > limitNtu
    })
  )
}

/** Lines whose chart stands above its limit. */
export function signallingLines(context: PointContext, state: PointState, unit: UnitFold, i: number): Line[] {
  const isDifferent = context.lines.some(
    (line, k) => (line.against === 'pair' || line.unit === i) && state.fold.lines[k]?.chart.signalSinceMs != null,
  )
  return [
    ...(unit.grab.chart.signalSinceMs === null ? [] : ['grab' as const]),
    ...(isDifferent ? ['redundant' as const] : []),
    ...(foundOutside(unit.verifications, unit.adjustedMs) === undefined ? [] : ['verification' as const]),
  ]
}

/** Whether evidence that a check has just refuted is all there is to ask with again. */
export function isRefutedByCheck(
  context: PointContext,
  state: PointState,
  unit: UnitFold,
  i: number,
  endMs: number,
): boolean {
  const { foundWithin } = unit.work
  if (foundWithin === null || unit.estimate === null || endMs - foundWithin.atMs >= HOLD_MS) return false
  const ofTolerance = unit.estimate.biasNtu.value / unit.estimate.toleranceNtu
  const hasGrown =
    ofTolerance * foundWithin.ofTolerance < 0 || Math.abs(ofTolerance) >= Math.abs(foundWithin.ofTolerance) + GROWN
  return !hasGrown && signallingLines(context, state, unit, i).every(line => foundWithin.lines.includes(line))
}

function sayCheck(check: {
  readonly foundNtu: number
  readonly assignedNtu: number
  readonly limitNtu: number
  readonly standard: string | null
}): string {
  const { foundNtu, assignedNtu, limitNtu, standard } = check
  const off = foundNtu - assignedNtu
  const size =
    assignedNtu > 0
      ? `${String(roundTo((100 * Math.abs(off)) / assignedNtu, 1))} % off, limit ${String(roundTo((100 * limitNtu) / assignedNtu, 1))} %`
      : `limit ${sayNtu(limitNtu)} NTU`
  return `as found ${sayNtu(foundNtu)} NTU on ${standard ?? 'a reference'} of ${sayNtu(assignedNtu)} NTU, ${size}`
}

/** Where one line alone asked for it, it was that one. */
function sayMisled(lines: readonly Line[]): string {
  const [first, second] = lines
  if (first === undefined) return 'which evidence misled cannot be told'
  if (second !== undefined) return 'grab samples and the other unit both showed it: which misled cannot be told'
  return first === 'grab'
    ? 'the grab samples misled: look at place and time of sampling, and at the bench'
    : 'the difference to the other unit misled: look at that one'
}
