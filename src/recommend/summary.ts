import type { UnitEstimate } from '../diagnose/estimate.js'
import type { Shift } from '../diagnose/laboratory.js'
import { roundTo } from '../model/rounding.js'
import { sayDay, sayInstant } from '../model/time.js'
import type { WorkAction } from '../model/messages.js'
import type { Action, Cause, FindingKind } from '../model/vocabulary.js'
import { leadingCause, type NotDone, type RankedCause } from './case.js'

/** NTU as an engineer writes it: two figures below 1, three above. */
export function sayNtu(value: number): string {
  const size = Math.abs(value)
  const places = size < 0.0995 ? 3 : size < 1 ? 2 : size < 10 ? 2 : size < 100 ? 1 : 0
  return String(roundTo(value, places))
}

/** "about 9 May" is the year's business only where it is another year. */
export function sayAbout(atMs: number): string {
  return `about ${sayDay(atMs)}`
}

export const CAUSE_WORDS: Record<Cause, string> = {
  zero_drift: 'zero drift',
  span_drift: 'span drift',
  fouling: 'a film on the window',
  source_ageing: 'an ageing light source',
  response_mismatch: 'a response that differs from the other method',
  beyond_range: 'a level beyond the range',
  bubbles: 'bubbles',
  condensation: 'condensation on the optics',
  stray_light: 'stray light',
  sample_line: 'the sample line',
  signal_path: 'the signal path',
  zero_reference_bad: 'zero water that was not zero',
  standard_bad: 'the standard',
  grab_bad: 'a bad grab sample',
  laboratory_bias: 'the laboratory instrument',
  other_unit: 'the other unit',
  process_change: 'the process',
  undecided: 'not decided',
}

const ACTION_WORDS: Record<Action, string> = {
  take_grab: 'take a grab sample, and a second one half an hour later',
  check_signal: 'compare the display with the recorded value and check the signal path',
  check_sample_line: 'look at the sample line, its flow and its bubbles',
  check_laboratory: 'check the laboratory instrument on a standard',
  verify: 'check zero and read its standard, adjust nothing yet',
  clean_then_verify: 'take a grab, clean, then read again',
  zero: 'take a grab, then zero on zero water',
  zero_and_span: 'take a grab, then zero and span',
  span: 'take a grab, check zero, then span',
  inspect: 'inspect it, the light source first',
  calibrate_primary: 'calibrate on a primary standard',
}

/** What an inspection begins with. */
const INSPECT_WORDS: Partial<Record<Cause, string>> = {
  stray_light: 'look at cover and shade',
  condensation: 'look for water on the optics, then at seals, dryness and vent',
  span_drift: 'look at the optics and the light source before adjusting',
  beyond_range: 'look at its range',
}

/** "probably zero drift" or "zero drift or a film on the window, not decided which". */
export function sayCauses(causes: readonly RankedCause[]): string {
  const named = causes.filter(one => one.cause !== 'undecided')
  const [first, second] = named
  if (first === undefined) return 'cause not decided'
  if (causes[0]?.cause !== 'undecided') return `probably ${CAUSE_WORDS[first.cause]}`
  if (second === undefined) return `perhaps ${CAUSE_WORDS[first.cause]}`
  return `${CAUSE_WORDS[first.cause]} or ${CAUSE_WORDS[second.cause]}, not decided which`
}

export interface BiasSentence {
  readonly analyzer: string
  readonly estimate: UnitEstimate
  readonly causes: readonly RankedCause[]
  readonly action: Action
  /** "6 grabs", "FE3-A". */
  readonly witnesses: readonly string[]
  readonly zeroMethod: 'zero_water' | 'source_off' | undefined
  /** Last accepted adjustment, 0 where none is on record. */
  readonly adjustedMs: number
  /** The cleaning that took off what had hidden the error. */
  readonly uncoveredMs?: number | undefined
  /** Only results beyond a limit show it: the size is the least it can be. */
  readonly isBound?: boolean
}

/** One sentence: analyzer, size, direction, tolerance, since when, what shows it, cause, what to do. */
export function biasSentence({
  analyzer,
  estimate,
  causes,
  action,
  witnesses,
  zeroMethod,
  adjustedMs,
  uncoveredMs,
  isBound,
}: BiasSentence): string {
  const size = Math.abs(estimate.biasNtu.value)
  const direction = estimate.biasNtu.value < 0 ? 'low' : 'high'
  const doing = sayAction(action, causes, zeroMethod)
  const plural = witnesses.length > 1 || (witnesses[0]?.endsWith(' grabs') ?? false)
  const shown = witnesses.length === 0 ? '' : `; ${listWords(witnesses)} ${plural ? 'show' : 'shows'} it`
  return `${analyzer} reads ${isBound === true ? 'at least ' : ''}${sayNtu(size)} NTU ${direction} at ${sayNtu(estimate.levelNtu)} NTU (tolerance ${sayNtu(estimate.toleranceNtu)}${reached(estimate)})${uncoveredMs === undefined ? since(estimate, adjustedMs) : `, uncovered by the cleaning of ${sayDay(uncoveredMs)}`}${shown}; ${sayCauses(forAction(causes, action))}: ${doing}.`
}

function sayAction(action: Action, causes: readonly RankedCause[], zeroMethod: BiasSentence['zeroMethod']): string {
  if (action === 'zero' && zeroMethod === 'source_off') return 'take a grab, then zero with the source off'
  return (action === 'inspect' ? INSPECT_WORDS[leadingCause(causes)] : undefined) ?? ACTION_WORDS[action]
}

/** Where cleaning is asked for, a film is named among the two causes in the sentence. */
function forAction(causes: readonly RankedCause[], action: Action): readonly RankedCause[] {
  const film = causes.find(one => one.cause === 'fouling')
  if (action !== 'clean_then_verify' || film === undefined || causes[0]?.cause !== 'undecided') return causes
  const first = causes.find(one => one.cause !== 'undecided' && one.cause !== 'fouling')
  if (first === undefined) return causes
  return [...causes.slice(0, 1), ...(film.probability > first.probability ? [film, first] : [first, film])]
}

function reached(estimate: UnitEstimate): string {
  if (estimate.pOutside >= 0.5) return ', passed'
  return estimate.forecast === null ? '' : `, reached ${sayAbout(estimate.forecast.toleranceAtMs)}`
}

function since({ onset }: UnitEstimate, adjustedMs: number): string {
  if (onset === null) return ''
  if (onset.beforeRecord && adjustedMs > 0) return ` since the work of ${sayDay(adjustedMs)}`
  return onset.beforeRecord ? ` since before ${sayDay(onset.latestMs)}` : ` since ${sayAbout(onset.estimateMs)}`
}

export function whichUnitSentence(
  point: string,
  units: readonly string[],
  differenceNtu: number,
  toleranceNtu: number,
): string {
  return `${units.length > 3 ? `The ${String(units.length)} units` : listWords(units)} at ${point} differ by ${sayNtu(Math.abs(differenceNtu))} NTU (tolerance ${sayNtu(toleranceNtu)}) and nothing tells which is wrong: ${ACTION_WORDS.take_grab}; touch neither before.`
}

/** "0.04 NTU high": an analyzer that reads low against the grab samples means a laboratory that reads high. */
export function sayShift({ form, size }: Shift): string {
  const direction = size < 0 ? 'high' : 'low'
  if (form === 'ntu') return `${sayNtu(Math.abs(size))} NTU ${direction}`
  if (form === 'share') return `${String(roundTo(100 * Math.abs(size), 0))} % ${direction}`
  return `${String(roundTo(Math.abs(size), 1))} tolerances ${direction}`
}

export function laboratorySentence(
  instrument: string,
  shift: Shift,
  fromMs: number,
  points: readonly string[],
): string {
  return `Laboratory ${instrument === 'all' ? 'results' : `instrument ${instrument}`} ${instrument === 'all' ? 'read' : 'reads'} ${sayShift(shift)} at ${String(points.length)} points since ${sayAbout(fromMs)}; no analyzer is blamed: ${ACTION_WORDS.check_laboratory}.`
}

/** What may be done with the readings while a finding lasts, where they are not simply unusable. */
const USE_WORDS: Partial<Record<FindingKind, string>> = {
  bubbles: 'the level is taken between them',
  exact_factor: 'probably scaling or range, and no span before that is known',
  display_differs: 'it is the signal path, and no span before that is known',
  follows_daylight: 'probably stray light, its night values stand',
}

/** @param what was found, with its number and since when */
export function signalSentence(analyzer: string, finding: FindingKind, what: string, action: Action): string {
  const doing = finding === 'follows_daylight' ? INSPECT_WORDS.stray_light : undefined
  return `${analyzer}: ${what}; ${USE_WORDS[finding] ?? 'the readings are not usable'}: ${doing ?? ACTION_WORDS[action]}.`
}

/** Work as a thing that was done: "the cleaning of 9 May". */
export const WORK_WORDS: Record<WorkAction, string> = {
  maintenance_on: 'begin of maintenance',
  maintenance_off: 'end of maintenance',
  cleaned: 'cleaning',
  line_flushed: 'flushing of the line',
  verified: 'verification',
  zero: 'zero',
  span: 'span',
  calibrated_primary: 'primary calibration',
  standard_assigned: 'assignment of the standard',
  light_source_replaced: 'renewal of the light source',
  part_replaced: 'renewal of a part',
  replaced: 'exchange of the analyzer',
}

export interface ProofSentence {
  readonly analyzer: string
  readonly action: WorkAction
  readonly workMs: number
  readonly pairs: number
  readonly estimate: UnitEstimate | null
}

/** While work awaits proof nobody is asked to do it again. */
export function proofSentence({ analyzer, action, workMs, pairs, estimate }: ProofSentence): string {
  const before =
    estimate === null
      ? ''
      : `, before the work it read ${sayNtu(Math.abs(estimate.biasNtu.value))} NTU ${estimate.biasNtu.value < 0 ? 'low' : 'high'} (tolerance ${sayNtu(estimate.toleranceNtu)})`
  return `${analyzer}: the ${WORK_WORDS[action]} of ${sayInstant(workMs)} awaits proof; ${String(pairs)} of 4 grabs are in${before}: take grab samples, half an hour or more apart.`
}

/** Work that was accepted although its own record says it is not done. */
export function notDoneSentence(analyzer: string, { atMs, action, text, ask }: NotDone): string {
  return `${analyzer}: the ${WORK_WORDS[action]} of ${sayInstant(atMs)} is not done; ${text}: ${ask}.`
}

export const FINDING_WORDS: Readonly<Record<string, string>> = {
  stuck: 'the signal repeats one value',
  silent: 'no current readings come',
  bubbles: 'bubbles raise many readings',
  erratic: 'the reading jumps up and down from block to block',
  no_flow: 'no sample flow',
  beyond_range: 'the reading stands at the end of its range',
  bad_quality: 'the readings come marked bad',
  exact_factor: 'its values changed at once by an exact factor',
  display_differs: 'display and record differ',
  follows_daylight: 'it reads higher by day than by night',
  comes_late: 'its reading comes later than that of the other units',
  returned_unsettled: 'it was put back before its reading had settled',
  did_not_settle: 'the reading did not settle after work',
  maintenance_forgotten: 'maintenance was never ended',
  not_in_service_inferred: 'it reads like a filter at rest or at its restart, inferred from the readings',
  many_silent: 'many analyzers fell silent together',
  methods_differ: 'the laboratory measures by another method',
  gross_difference: 'the units differ by more than the tolerance',
  no_usable_unit: 'no usable unit is left',
  feed_down: 'the feed is down',
  power_dip: 'several analyzers restarted at one instant',
  process_change: 'the process changed',
}

export function listWords(words: readonly string[]): string {
  if (words.length <= 1) return words[0] ?? ''
  return `${words.slice(0, -1).join(', ')} and ${words.at(-1) ?? ''}`
}
