import type { Analyzer } from '../model/plant.js'
import { HOUR_MS, SECOND_MS } from '../model/time.js'
import type { FindingKind } from '../model/vocabulary.js'
import { toleranceAt } from '../model/tolerance.js'
import { median } from '../statistics/robust.js'
import { type Block, type BlockLog, blockAt, FLAG } from '../qualify/blockLog.js'
import { advanceErratic } from '../qualify/erratic.js'
import { isHeard } from '../qualify/heldValue.js'
import { isInWork } from '../qualify/gate.js'
import { BLOCK_MS } from '../qualify/openBlock.js'
import { stuckSince } from '../qualify/stuckRun.js'
import type { PointContext } from './context.js'
import { methodsDifferSince } from './methodGrab.js'
import type { PointState, UnitFold } from './pointState.js'
import { signFindings } from './signFindings.js'

/** Share of raised readings at which bubbles are a finding, and below which they are over. */
const BUBBLES_BEGIN = 0.08
const BUBBLES_END = 0.04
/** Share above which that must hold over these blocks, an hour apart. */
export const BUBBLE_BLOCKS = [0, 4, 8, 12] as const
/** Blocks in a row before a flag is a finding. */
const PERSISTENT_BLOCKS = 4
/** After this a reading that still moves was put back too early: what a visit stirs up dies away within the hour. */
const UNSETTLED_MS = 1.5 * HOUR_MS

/**
 * What is true now about each unit and the point, with the instant since when. Cleared as soon as it is not.
 * @param row medians of the block, by unit, null where it does not count
 */
export function updateFindings(
  context: PointContext,
  state: PointState,
  row: readonly (number | null)[],
  inService: boolean,
  endMs: number,
): void {
  state.fold.units.forEach((unit, i) => {
    const analyzer = context.analyzers[i]
    const log = state.analyzers[i]?.log
    if (analyzer === undefined || log === undefined) return
    const set = (finding: FindingKind, sinceMs: number | undefined): void => {
      if (sinceMs !== undefined) unit.findings[finding] ??= sinceMs
      else if (unit.findings[finding] !== undefined) Reflect.deleteProperty(unit.findings, finding)
    }
    set('stuck', stuckSince(log, endMs, unit.findings.stuck))
    set('silent', silentSince(log, endMs, analyzer, unit))
    set('no_flow', flaggedSince(log, endMs, FLAG.noFlow))
    set('beyond_range', flaggedSince(log, endMs, FLAG.beyondRange))
    set('bad_quality', flaggedSince(log, endMs, FLAG.badQuality))
    for (const [finding, sinceMs] of Object.entries(signFindings(context, unit, i, endMs)))
      set(finding as FindingKind, sinceMs)
    set('maintenance_forgotten', forgottenSince(unit, endMs, context.plant.maintenanceForgottenMs))
    set('returned_unsettled', unsettledSince(unit, endMs))
    set('did_not_settle', unit.gate.didNotSettleAtMs ?? undefined)
    const ntu = row[i] ?? null
    if (ntu !== null) advanceErratic(unit.erratic, endMs, ntu, analyzer.tolerance)
    set('erratic', unit.erratic.sinceMs ?? undefined)
    if (inService) set('bubbles', bubblesSince(log, endMs, unit.findings.bubbles))
  })
  updatePointFindings(context, state, endMs)
  updateGrossDifference(context, state, row, endMs)
}

const GROSS_MS = 2 * HOUR_MS
/** Once found it lasts until the difference is well inside, in tolerances. */
const GROSS_OVER = 0.5

/** A gross rule beside the charts: it changes the status and opens nothing by itself. */
function updateGrossDifference(
  context: PointContext,
  state: PointState,
  row: readonly (number | null)[],
  endMs: number,
): void {
  const { fold } = state
  const values = row.filter(value => value !== null)
  if (values.length < 2) return
  // One that is late differs whenever the water moves: that is told, and each time again would be noise.
  const isLate = fold.units.some(({ findings }) => findings.comes_late !== undefined)
  const spreadNtu = Math.max(...values) - Math.min(...values)
  const toleranceNtu = toleranceAt(context.point.tolerance, median(values))
  if (spreadNtu > toleranceNtu && !isLate) fold.grossSinceMs ??= endMs - BLOCK_MS
  else if (isLate || fold.findings.gross_difference === undefined || spreadNtu < GROSS_OVER * toleranceNtu)
    fold.grossSinceMs = null
  if (fold.grossSinceMs !== null && endMs - fold.grossSinceMs >= GROSS_MS)
    fold.findings.gross_difference ??= fold.grossSinceMs
  else Reflect.deleteProperty(fold.findings, 'gross_difference')
}

function updatePointFindings(context: PointContext, state: PointState, endMs: number): void {
  const { fold } = state
  const { point } = context
  const methodsDifferMs = methodsDifferSince(fold, endMs)
  if (methodsDifferMs === undefined) Reflect.deleteProperty(fold.findings, 'methods_differ')
  else fold.findings.methods_differ = methodsDifferMs
  if (fold.inferred.hold === null) Reflect.deleteProperty(fold.findings, 'not_in_service_inferred')
  else fold.findings.not_in_service_inferred ??= fold.inferred.hold.sinceMs
  const heard = fold.units.some(unit => unit.lastUsableMs !== null)
  const idle = (fold.service.state !== null && fold.service.state !== 'in_service') || fold.inferred.hold !== null
  const lastUsable = Math.max(...fold.units.map(unit => unit.lastUsableMs ?? 0))
  const patienceMs = Math.max(...context.analyzers.map(analyzer => silenceBlocks(analyzer) * BLOCK_MS))
  const without = (point.regulated || point.controlling) && heard && !idle && endMs - lastUsable >= patienceMs
  if (without && endMs - fold.service.sinceMs > 2 * HOUR_MS) fold.findings.no_usable_unit ??= lastUsable
  else Reflect.deleteProperty(fold.findings, 'no_usable_unit')
}

/** Put back, and still moving when any ordinary visit has long been forgotten. */
function unsettledSince({ gate, against, findings }: UnitFold, endMs: number): number | undefined {
  const { settlingSinceMs, settlingAfter } = gate
  if (settlingSinceMs === null || settlingAfter !== 'work' || isInWork(gate)) return undefined
  if (against !== 'settling' && findings.returned_unsettled === undefined) return undefined
  return endMs - settlingSinceMs >= UNSETTLED_MS ? settlingSinceMs : undefined
}

/** Nothing heard for longer than two intervals allow; a feed that is down answers for its own silence. */
function silentSince(log: BlockLog, endMs: number, analyzer: Analyzer, unit: UnitFold): number | undefined {
  if (isHeard(log, endMs)) return undefined
  const blocks = silenceBlocks(analyzer)
  for (let k = 0; k < blocks; k++) if (isHeard(log, endMs - k * BLOCK_MS)) return unit.findings.silent
  if (unit.lastUsableMs === null && unit.lastPairMs === null && unit.findings.silent === undefined) return undefined
  return endMs - blocks * BLOCK_MS
}

/** Empty blocks in a row that make silence: two intervals at least. */
function silenceBlocks({ transmission, intervalS }: Analyzer): number {
  const patienceS = transmission.mode === 'on_change' ? transmission.heartbeatS : intervalS
  return Math.max(2, Math.ceil((2 * patienceS * SECOND_MS) / BLOCK_MS))
}

function flaggedSince(log: BlockLog, endMs: number, flag: number): number | undefined {
  let k = 0
  let block: Block | undefined = blockAt(log, endMs)
  while (block !== undefined && (block.flags & flag) !== 0 && k < PERSISTENT_BLOCKS) {
    k += 1
    block = blockAt(log, endMs - k * BLOCK_MS)
  }
  return k >= PERSISTENT_BLOCKS ? endMs - k * BLOCK_MS : undefined
}

function forgottenSince(unit: UnitFold, endMs: number, limitMs: number): number | undefined {
  const sinceMs = unit.gate.maintenanceSinceMs ?? unit.gate.inWorkSinceMs
  return sinceMs !== null && endMs - sinceMs > limitMs ? sinceMs : undefined
}

function bubblesSince(log: BlockLog, endMs: number, known: number | undefined): number | undefined {
  // Hardly any block has bubbles: the newest alone tells that none begin.
  if (known === undefined && (blockAt(log, endMs)?.bubbleShare ?? 0) < BUBBLES_BEGIN) return undefined
  const shares = BUBBLE_BLOCKS.flatMap(k => blockAt(log, endMs - k * BLOCK_MS)?.bubbleShare ?? [])
  if (shares.length < BUBBLE_BLOCKS.length) return known
  if (known === undefined)
    return shares.every(share => share >= BUBBLES_BEGIN) ? endMs - (BUBBLE_BLOCKS.at(-1) ?? 0) * BLOCK_MS : undefined
  return shares.every(share => share < BUBBLES_END) ? undefined : known
}
