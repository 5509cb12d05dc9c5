import { chartShare } from '../detect/chart.js'
import type { StatusData } from '../model/events.js'
import { DAY_MS, formatInstant } from '../model/time.js'
import type { Assessment, FindingKind } from '../model/vocabulary.js'
import { FINDING_WORDS, sayCauses, sayNtu } from '../recommend/summary.js'
import { biasData } from './biasData.js'
import type { PointContext } from './context.js'
import { findingDetail } from './findingDetail.js'
import type { PointState, UnitFold } from './pointState.js'
import { notesOf } from './statusNotes.js'

/** Findings that make a reading unusable while they last. */
const FAULTS: readonly FindingKind[] = ['stuck', 'silent', 'no_flow', 'beyond_range', 'bad_quality']
/** Evidence older than this does not carry an assessment. */
const STALE_MS = 14 * DAY_MS
const LEAST_PAIRS = 3

/** How one analyzer stands, without the numbers: cheap enough to be looked at with every block. */
export interface Standing {
  readonly assessment: Assessment
  readonly findings: readonly FindingKind[]
  readonly missing: readonly string[]
}

/** Silence is not health: without a comparator an analyzer is not assessed. */
export function standingOf(context: PointContext, state: PointState, i: number, endMs: number): Standing {
  const unit = state.fold.units[i]
  if (unit === undefined) throw new RangeError(`no unit ${String(i)} at ${state.id}`)
  const findings = Object.keys(unit.findings).sort() as FindingKind[]
  const missing = missingEvidence(context, state, unit, i, endMs)
  return { assessment: assess(state, unit, findings, missing, endMs), findings, missing }
}

/** The body of a status event. @param sinceMs since when the assessment has been what it is */
export function statusData(
  context: PointContext,
  state: PointState,
  i: number,
  standing: Standing,
  sinceMs: number,
  endMs: number,
): StatusData {
  const unit = state.fold.units[i]
  const id = context.analyzers[i]?.id ?? ''
  if (unit === undefined) throw new RangeError(`no unit ${String(i)} at ${state.id}`)
  const { assessment, findings, missing } = standing
  const notes = notesOf(context, state, i)
  const evidenceMs = lastEvidence(state, unit, i)
  const estimate = assessment === 'not_assessed' ? null : unit.estimate
  const bias = estimate === null ? undefined : biasData(estimate, context.point)
  return {
    summary:
      assessment === 'signal_fault'
        ? faultSentence(id, context, state, i, findings, endMs)
        : sentence(id, assessment, unit, missing),
    notify: 'shift_summary',
    analyzer: id,
    point: context.point.id,
    assessment,
    since: formatInstant(sinceMs),
    ...(bias === undefined ? {} : { bias: withoutActionLevels(bias) }),
    ...(evidenceMs === null ? {} : { lastIndependentEvidence: formatInstant(evidenceMs) }),
    missing: [...missing],
    findings: [...findings],
    ...(notes.length === 0 ? {} : { notes }),
  }
}

function assess(
  state: PointState,
  unit: UnitFold,
  findings: readonly FindingKind[],
  missing: readonly string[],
  endMs: number,
): Assessment {
  if (findings.some(finding => FAULTS.includes(finding))) return 'signal_fault'
  if (unit.case?.kind === 'bias' && unit.case.phase === 'open') return 'doubtful'
  if (
    unit.lastUsableMs === null ||
    missing.length > 0 ||
    unit.gate.maintenanceSinceMs !== null ||
    unit.gate.inWorkSinceMs !== null
  )
    return 'not_assessed'
  if (endMs - unit.lastUsableMs > DAY_MS) return 'not_assessed'
  if (
    state.fold.pointCase !== null ||
    isDifferenceOpen(state) ||
    unit.proof !== null ||
    chartShare(unit.grab.chart) > 0.5 ||
    (unit.estimate?.pHalf ?? 0) >= 0.5
  )
    return 'watch'
  return 'consistent'
}

/** Units differ and no request says which of them is wrong. */
function isDifferenceOpen(state: PointState): boolean {
  return (
    state.fold.findings.gross_difference !== undefined && state.fold.units.every(unit => unit.case?.kind !== 'bias')
  )
}

/** What would have to come in for a firmer answer. */
function missingEvidence(context: PointContext, state: PointState, unit: UnitFold, i: number, endMs: number): string[] {
  if (unit.gate.maintenanceSinceMs !== null || unit.gate.inWorkSinceMs !== null)
    return ['maintenance is on: end it when the work is done']
  if (unit.lastUsableMs === null) return ['no usable reading has come yet']
  const pairs = pairsSince(state, i, Math.max(unit.adjustedMs, endMs - STALE_MS))
  if (pairs >= LEAST_PAIRS) return []
  if (context.laboratoryIntervals.some(one => one.untilMs === null))
    return ['grab samples do not count until the laboratory instrument has been checked']
  const newest = state.differences.findLast(one => one.deviationsNtu[i] != null)
  const redundant = context.lines.length > 0 && newest !== undefined && newest.atMs > endMs - DAY_MS
  const needed = LEAST_PAIRS - pairs
  if (redundant && pairs > 0) return []
  if (pairs === 0 && !redundant)
    return [
      `needs ${String(needed)} grab samples or a verification: nothing independent has been compared with it lately`,
    ]
  return [`needs ${String(needed)} more ${needed === 1 ? 'grab' : 'grabs'} or a verification`]
}

/** Pairs that count for a unit after an instant, up to as many as are needed. */
function pairsSince(state: PointState, i: number, sinceMs: number): number {
  let n = 0
  for (let k = state.pairs.length - 1; k >= 0 && n < LEAST_PAIRS; k--) {
    const pair = state.pairs[k]
    if (pair === undefined || pair.atMs <= sinceMs) break
    if (pair.use === 'used' && pair.units[i] != null) n += 1
  }
  return n
}

function lastEvidence(state: PointState, unit: UnitFold, i: number): number | null {
  const difference = state.differences.findLast(
    one => one.deviationsNtu[i] != null && one.lines.some(value => value !== null),
  )
  if (unit.lastPairMs === null) return difference?.atMs ?? null
  return Math.max(unit.lastPairMs, difference?.atMs ?? 0)
}

function sentence(
  id: string,
  assessment: Exclude<Assessment, 'signal_fault'>,
  unit: UnitFold,
  missing: readonly string[],
): string {
  const { estimate } = unit
  switch (assessment) {
    case 'not_assessed':
      return `${id} is not assessed: ${missing[0] ?? 'no usable reading for a day'}.`
    case 'doubtful':
      return `${id} is in doubt: ${unit.case === null ? '' : sayCauses(unit.case.causes)}.`
    case 'watch':
      return estimate === null
        ? `${id} is watched.`
        : `${id} is watched: bias ${sayNtu(estimate.biasNtu.value)} NTU, tolerance ${sayNtu(estimate.toleranceNtu)}.`
    case 'consistent':
      return estimate === null
        ? `${id} agrees with its references.`
        : `${id} agrees with its references: bias ${sayNtu(estimate.biasNtu.value)} NTU, tolerance ${sayNtu(estimate.toleranceNtu)}.`
  }
}

/** The first fault in full, the others by name. */
function faultSentence(
  id: string,
  context: PointContext,
  state: PointState,
  i: number,
  findings: readonly FindingKind[],
  endMs: number,
): string {
  const [first, ...others] = FAULTS.filter(finding => findings.includes(finding))
  if (first === undefined) throw new RangeError(`${id} has no fault`)
  const sinceMs = state.fold.units[i]?.findings[first] ?? endMs
  const { what } = findingDetail(first, { context, state, unit: i, sinceMs, endMs })
  return `${id}: ${[what, ...others.map(finding => FINDING_WORDS[finding] ?? finding)].join('; ')}.`
}

function withoutActionLevels(bias: ReturnType<typeof biasData>): NonNullable<StatusData['bias']> {
  const { trueAtActionLevels: _levels, ...rest } = bias
  return rest
}
