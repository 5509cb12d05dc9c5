import type { Explanation } from '../../core/explanation.js'
import type { RecommendationData } from '../../model/events.js'
import type { Unit } from '../../model/units.js'
import { liveRecommendation, sayNumber, sayRespondBy, sayTarget, sayUrgency, whereAndWhen } from '../say.js'
import { ACTION_TEXT } from '../words.js'
import { type HandBack, handBackOf } from './handBack.js'

/** One visit on one page: why, what to bring, what to mind, what to do, what to write down, what to hand back. */
export interface VisitSheet {
  readonly title: string
  /** The sentence of the request. */
  readonly why: string
  readonly facts: readonly string[]
  readonly bring: readonly string[]
  readonly cautions: readonly string[]
  readonly steps: readonly string[]
  /** What is written down by hand, in the order of the steps. */
  readonly blanks: readonly string[]
  readonly handBack: HandBack | undefined
  readonly handBackNote: string
}

/** @returns undefined where no visit is asked for: nothing open, or the work done and its proof awaited */
export function visitSheetOf(explanation: Explanation, unit: Unit): VisitSheet | undefined {
  const live = liveRecommendation(explanation)
  if (live === undefined || live.phase === 'awaiting_proof') return undefined
  const { cautions, steps } = live.procedure
  return {
    title: `${sayTarget(live.target)}: ${ACTION_TEXT[live.action]}`,
    why: live.summary,
    facts: [
      ...whereAndWhen(explanation),
      `request ${live.recommendation}`,
      `${sayRespondBy(live, explanation)} ${sayUrgency(live)}`,
    ],
    bring: bringOf(live, explanation),
    cautions,
    steps,
    blanks: blanksOf(live, unit),
    handBack: handBackOf(live, unit),
    handBackNote: noteOf(live, explanation, unit),
  }
}

function bringOf({ procedure }: RecommendationData, { atMs }: Explanation): string[] {
  const day = new Date(atMs).toISOString().slice(0, 10)
  return [
    ...(procedure.bring ?? []).map(({ id, type, assignedNtu, lot, expires }) => {
      const expiry = expires === undefined ? 'expiry: read its label' : `expires ${expires}`
      const past = expires !== undefined && expires < day ? ': past, bring a fresh one' : ''
      return `${type.replaceAll('_', ' ')} ${id}, ${sayNumber(assignedNtu)} NTU, ${lot === undefined ? 'lot: read its label' : `lot ${lot}`}, ${expiry}${past}`
    }),
    'two clean bottles for grab samples',
    ...(procedure.spanReference === undefined && procedure.zeroMethod === undefined
      ? []
      : ['the safety data sheets of the standards']),
  ]
}

function blanksOf({ action, procedure }: RecommendationData, unit: Unit): string[] {
  if (action === 'take_grab') return ['first sample: time, number', 'second sample: time, number', 'taken by']
  if (action === 'check_laboratory')
    return ['instrument', 'standard: number, lot, value', 'as found', 'after cleaning', 'time', 'checked by']
  if (action === 'check_signal')
    return ['time', `display, ${unit}`, `recorded value, ${unit}`, 'what was found', 'time back in use', 'done by']
  if (action === 'check_sample_line')
    return ['time', 'flow as found', 'flow as left', 'what was found', 'time back in use', 'done by']
  return [
    'time maintenance on',
    'grab sample before: time, number',
    `as found, untouched, ${unit}`,
    `second meter beside, before, ${unit}`,
    `as found clean, ${unit}`,
    `second meter beside, after, ${unit}`,
    ...(procedure.zeroMethod === undefined ? [] : [`as left on zero, ${unit}`]),
    procedure.spanReference === undefined ? `as left, ${unit}` : `as left on the standard, ${unit}`,
    ...(action === 'calibrate_primary' ? [`new value of the secondary standard, ${unit}`] : []),
    'time maintenance off',
    'grab sample after: time, number',
    'done by',
  ]
}

function noteOf(live: RecommendationData, { timeZone }: Explanation, unit: Unit): string {
  if (live.action === 'check_laboratory')
    return 'Hand the check in as a message of kind laboratory_check; it is no work on an analyzer.'
  const values = live.action === 'take_grab' ? 'results' : `values in ${unit}`
  return `Save as a .csv file in the drop folder, filled in: times such as 2026-05-09 10:15 by the clock of ${timeZone}, ${values}; leave out lines of what was not done.`
}
