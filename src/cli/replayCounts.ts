import type { PlantStatus } from '../core/explain.js'
import type { ReplayedFiles } from './replayFiles.js'

/** What was taken and what was not, with reasons: nothing is dropped without a word. */
export function sayCounts(
  { counts, missing }: Pick<ReplayedFiles<unknown>, 'counts' | 'missing'>,
  { excluded, ignoredFields, unknownAnalyzers }: PlantStatus['counts'],
): readonly string[] {
  const { inputs, accepted, repeats, rejected, ticksLeftOut, events } = counts
  const lines = [
    `${n(inputs)} inputs: ${n(accepted)} taken, ${n(repeats)} repeats, ${n(sum(rejected.values()))} refused; ${n(events)} events`,
  ]
  if (rejected.size > 0) lines.push(`refused: ${list(rejected)}`)
  const leftOut = Object.entries(excluded).filter(([reason]) => reason !== 'repeat')
  if (leftOut.length > 0) lines.push(`readings, blocks and pairs left out: ${list(leftOut)}`)
  if (missing.size > 0) lines.push(`empty cells: ${list(missing)}`)
  const unknown = Object.entries(unknownAnalyzers)
  if (unknown.length > 0)
    lines.push(`analyzers the register does not know: ${list(unknown.slice(0, SHOWN))}${more(unknown.length)}`)
  if (ignoredFields > 0) lines.push(`fields nobody asked for: ${n(ignoredFields)}`)
  if (ticksLeftOut > 0) {
    lines.push(`${n(ticksLeftOut)} ticks of the input were left out: plant time follows the messages (see --ticks)`)
  }
  return lines
}

const SHOWN = 20

function more(length: number): string {
  return length > SHOWN ? ` and ${n(length - SHOWN)} more` : ''
}

function list(counts: Iterable<readonly [string, number]>): string {
  return [...counts].map(([reason, count]) => `${reason.replaceAll('_', ' ')} ${n(count)}`).join(', ')
}

function sum(values: Iterable<number>): number {
  let total = 0
  for (const value of values) total += value
  return total
}

function n(value: number): string {
  return String(value)
}
