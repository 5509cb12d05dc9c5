import type { CriterionData } from '../model/events.js'
import { parseInstant, sayDay } from '../model/time.js'

export const CRITERIA_TITLE = 'Published criteria'

/** Stands above every comparison with a published number. */
export const CRITERIA_TEXT =
  'Numbers beside published numbers, apart from the finding above, and no verdict: what applies here, and how values ' +
  'are rounded and counted, is for your authority and your site procedures to say.'

export const OUTCOME_TEXT: Readonly<Record<CriterionData['outcome'], string>> = {
  within: 'within',
  beyond: 'beyond',
  nothing_to_compare: 'nothing to compare',
}

/** "40 CFR 141.175(b)(1)", and that its text is from memory where it is. */
export function saySource({ source, mark }: CriterionData): string {
  return mark === 'verified' ? source : `${source} (from memory: look it up before relying on it)`
}

/** What was compared with what, and over which days. */
export function sayCompared({ compared, from, to }: CriterionData): string {
  const [fromMs, toMs] = [from, to].map(time => (time === undefined ? undefined : parseInstant(time)))
  if (fromMs === undefined || toMs === undefined) return compared
  const [first, last] = [sayDay(fromMs), sayDay(toMs)]
  return `${compared}, ${first === last ? first : `${first} to ${last}`}`
}
