import { roundTo } from '../../model/rounding.js'
import { sayInstant } from '../../model/time.js'
import { listWords, sayNtu } from '../../recommend/summary.js'
import type { MovedPoint, ProcessChange } from './processChange.js'

const NAMED = 4

export function changeSentence(change: ProcessChange): string {
  const [first] = change.points
  if (change.alone !== null && first !== undefined) {
    return `${change.alone} ${roseOrFell(change)} from ${sayNtu(first.beforeNtu)} to ${sayNtu(first.nowNtu)} NTU since ${sayInstant(change.fromMs)}; ${borneOut(change)}, so the process changed, not the analyzers: take the next grab sample when the level is steady.`
  }
  return `${named(change.points)} ${roseOrFell(change)} together by ${sharesOf(change.points)} % since ${sayInstant(change.fromMs)}; ${borneOut(change)}: a process change common to ${String(change.points.length)} points, not the analyzers: look at raw water and dosing.`
}

export function changeEndSentence(change: ProcessChange): string {
  const [first] = change.points
  if (change.alone !== null && first !== undefined)
    return `${change.alone}: the process change since ${sayInstant(change.fromMs)} is over; it ${roseOrFell(change)} from ${sayNtu(first.beforeNtu)} to ${sayNtu(first.nowNtu)} NTU, ${borneOut(change)}.`
  return `The process change common to ${String(change.points.length)} points since ${sayInstant(change.fromMs)} is over; ${named(change.points)} ${roseOrFell(change)} by ${sharesOf(change.points)} %, ${borneOut(change)}.`
}

function roseOrFell({ direction }: ProcessChange): string {
  return direction > 0 ? 'rose' : 'fell'
}

function named(points: readonly MovedPoint[]): string {
  const names = points.map(one => one.point)
  if (names.length <= NAMED + 1) return listWords(names)
  return `${names.slice(0, NAMED).join(', ')} and ${String(names.length - NAMED)} more`
}

function sharesOf(points: readonly MovedPoint[]): string {
  const shares = points
    .map(one => Math.round((100 * Math.abs(one.nowNtu - one.beforeNtu)) / Math.max(1e-3, Math.abs(one.beforeNtu))))
    .sort((a, b) => a - b)
  const [least, most] = [shares[0] ?? 0, shares.at(-1) ?? 0]
  return least === most ? String(least) : `${String(least)} to ${String(roundTo(most, 0))}`
}

/** What stayed as it was to each other. */
function borneOut({ points }: ProcessChange): string {
  const units = points.reduce((sum, one) => sum + one.units, 0)
  const grabs = points.reduce((sum, one) => sum + one.grabs, 0)
  const witnesses = [
    ...(units > 0 ? [`${String(units)} units side by side`] : []),
    ...(grabs > 0 ? [`${String(grabs)} ${grabs === 1 ? 'grab' : 'grabs'}`] : []),
  ]
  return witnesses.length === 0
    ? 'no grab has come since'
    : `differences to references unchanged (${witnesses.join(', ')})`
}
