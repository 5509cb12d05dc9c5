import { sayInstant } from '../model/time.js'
import type { Case } from '../recommend/case.js'
import { sayNtu, WORK_WORDS } from '../recommend/summary.js'
import type { LateFacts } from './lateFacts.js'
import type { PublishedCase } from './plantState.js'

export type Change = 'recommendation.reopened' | 'recommendation.escalated' | 'recommendation.revised' | undefined

/** Why a change of a request is told: what moved, which answer ended, which answer it goes against. */
export function reasonFor(known: PublishedCase, open: Case, type: Change, deferralEnds: boolean): string {
  if (known.answer === 'rejected')
    return 'rejected before; since then the bias grew by half a tolerance, new evidence came, or a fortnight passed'
  if (type === 'recommendation.escalated')
    return `urgency rose from ${known.urgency} to ${open.urgency}${grown(known, open)}${despite(known)}`
  if (open.notDone != null && open.notDone.atMs !== known.told.notDoneMs)
    return `${WORK_WORDS[open.notDone.action]} on record, but not done: ${open.notDone.text}`
  if (deferralEnds) return `the deferral has ended (${known.answerReason ?? ''})`
  if (type === 'recommendation.reopened') return 'the work did not put it right'
  if (known.phase !== open.phase) return 'work is on record: four grab samples will prove it'
  return known.data.action === open.action
    ? 'the evidence moved'
    : `${open.action.replaceAll('_', ' ')} instead of ${known.data.action.replaceAll('_', ' ')}`
}

/** The longest reason the contract of events allows is 400 characters. */
export function andLate(reason: string, late: LateFacts | undefined): string {
  return late === undefined ? reason : `${reason}; ${late.reason}`.slice(0, 400)
}

/** "; it read 0.03 NTU low then and 0.08 NTU low now (tolerance 0.05)". */
function grown({ data }: PublishedCase, { estimate }: Case): string {
  if (data.bias === undefined || estimate === null) return ''
  return `; it read ${sayBias(data.bias.ntu)} then and ${sayBias(estimate.biasNtu.value)} now (tolerance ${sayNtu(estimate.toleranceNtu)})`
}

function despite({ answer, answerUntilMs, answerReason }: PublishedCase): string {
  if (answer !== 'deferred' || answerUntilMs === null) return ''
  return `, despite the deferral until ${sayInstant(answerUntilMs)} (${answerReason ?? ''})`
}

function sayBias(ntu: number): string {
  return `${sayNtu(Math.abs(ntu))} NTU ${ntu < 0 ? 'low' : 'high'}`
}
