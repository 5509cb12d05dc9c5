import { DIGITS, roundTo } from '../model/rounding.js'
import { blockAt } from '../qualify/blockLog.js'
import { BLOCK_MS } from '../qualify/openBlock.js'
import { advanceService, newServiceState, type ServiceState } from '../qualify/serviceGate.js'
import { REACH_MS } from './advance.js'
import { factsDue } from './facts.js'
import type { Explanation } from './explanation.js'
import type { AnalyzerState, PointState, UnitFold } from './pointState.js'

/** The blocks of one analyzer that are held; not usable in work, out of service and where flagged. */
export function blocksOf(
  point: PointState,
  analyzer: AnalyzerState,
  unit: UnitFold | undefined,
  workedMs: number,
): Explanation['blocks'] {
  const blocks: { endMs: number; medianNtu: number; usable: boolean }[] = []
  const service = newServiceState()
  for (const { dueMs } of point.facts) if (dueMs <= workedMs - REACH_MS) serviceAt(point, service, dueMs)
  for (let endMs = workedMs - REACH_MS + BLOCK_MS; endMs <= workedMs; endMs += BLOCK_MS) {
    const inService = serviceAt(point, service, endMs)
    const block = blockAt(analyzer.log, endMs)
    if (block === undefined || Number.isNaN(block.medianNtu)) continue
    const inWork = unit?.works.some(work => Math.abs(work.atMs - endMs) < 4 * BLOCK_MS) ?? false
    blocks.push({
      endMs,
      medianNtu: roundTo(block.medianNtu, DIGITS.ntu),
      usable: inService && block.flags === 0 && !inWork && !isInferredOut(point, endMs),
    })
  }
  return blocks
}

function serviceAt(point: PointState, service: ServiceState, endMs: number): boolean {
  const changes = factsDue(point.facts, endMs).flatMap(({ message }) => (message.kind === 'process' ? [message] : []))
  return advanceService(service, changes, endMs)
}

/** Held back because the readings themselves looked like a filter at rest or at its restart. */
function isInferredOut({ fold: { inferred, service } }: PointState, endMs: number): boolean {
  if (service.state !== null) return false
  const { hold, past } = inferred
  return (
    (hold !== null && endMs > hold.sinceMs) || past.some(({ sinceMs, untilMs }) => endMs > sinceMs && endMs <= untilMs)
  )
}
