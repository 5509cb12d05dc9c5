import { chartShare } from '../detect/chart.js'
import type { StatusData } from '../model/events.js'
import { DAY_MS, formatInstant } from '../model/time.js'
import type { Assessment, FindingKind } from '../model/vocabulary.js'
import { FINDING_WORDS, sayCauses, sayNtu } from '../recommend/summary.js'
import { biasData } from './biasData.js'
import type { PointContext } from './context.js'
import { findingDetail } from './findingDetail.js'
import type { PointState, UnitFold } from './pointState.js'
import { lastEvidence, missingEvidence } from './missingEvidence.js'
import { notesOf } from './statusNotes.js'
import { watchSentence } from './watchSentence.js'

/** Findings that make a reading unusable while they last. */
const FAULTS: readonly FindingKind[] = [
  'stuck',
  'silent',
  'no_flow',
  'beyond_range',
  'bad_quality',
  'exact_factor',
  'display_differs',
]

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
  const missing = missingEvidence(context, state, i, endMs)
  return { assessment: assess(state, unit, i, findings, missing, endMs), findings, missing }
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
  const estimate = assessment === 'not_assessed' || missing.length > 0 ? null : unit.estimate
  const bias = estimate === null ? undefined : biasData(estimate, context.point)
  return {
    summary:
      assessment === 'signal_fault'
        ? faultSentence(id, context, state, i, findings, endMs)
        : sentence(id, assessment, state, i, missing),
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
  i: number,
  findings: readonly FindingKind[],
  missing: readonly string[],
  endMs: number,
): Assessment {
  if (findings.some(finding => FAULTS.includes(finding))) return 'signal_fault'
  if (unit.case?.kind === 'bias' && unit.case.phase === 'open') return 'doubtful'
  if (unit.lastUsableMs === null || unit.gate.maintenanceSinceMs !== null || unit.gate.inWorkSinceMs !== null)
    return 'not_assessed'
  if (endMs - unit.lastUsableMs > DAY_MS) return 'not_assessed'
  if (watchSentence('', state, i, missing.length === 0) !== undefined) return 'watch'
  if (missing.length > 0) return 'not_assessed'
  return isInQuestion(state, unit) ? 'watch' : 'consistent'
}

/** A chart is on its way, work awaits proof, or the units differ. */
function isInQuestion(state: PointState, unit: UnitFold): boolean {
  return (
    state.fold.pointCase !== null ||
    isDifferenceOpen(state) ||
    unit.proof !== null ||
    chartShare(unit.grab.chart) > 0.5 ||
    (unit.estimate?.pHalf ?? 0) >= 0.5
  )
}

/** Units differ and no request says which of them is wrong. */
function isDifferenceOpen(state: PointState): boolean {
  return (
    state.fold.findings.gross_difference !== undefined && state.fold.units.every(unit => unit.case?.kind !== 'bias')
  )
}

function sentence(
  id: string,
  assessment: Exclude<Assessment, 'signal_fault'>,
  state: PointState,
  i: number,
  missing: readonly string[],
): string {
  const unit = state.fold.units[i]
  const estimate = unit?.estimate ?? null
  switch (assessment) {
    case 'not_assessed':
      return `${id} is not assessed: ${missing[0] ?? 'no usable reading for a day'}.`
    case 'doubtful':
      return `${id} is in doubt: ${unit?.case == null ? '' : sayCauses(unit.case.causes)}.`
    case 'watch':
      // What the charts and the estimate say goes before what only watches.
      if (unit === undefined || !isInQuestion(state, unit))
        return watchSentence(id, state, i, missing.length === 0) ?? `${id} is watched.`
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
