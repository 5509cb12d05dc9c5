import type { Plant } from '../model/plant.js'
import { sayDuration, sayInstant } from '../model/time.js'
import { BLOCK_MS } from '../qualify/openBlock.js'
import type { FindingDetail } from './findingDetail.js'
import type { PlantState } from './plantState.js'

/** Points that lose their readings within this of each other lose them together. */
const TOGETHER_MS = 2 * BLOCK_MS
/** Points that are named in a sentence; the others are counted, and all stand in the detail. */
const NAMED = 3

/**
 * Regulated and controlling points without a usable unit for one cause outside them: analyzers that fell silent
 * together, a feed that is down. One of them is told at once and names the others.
 */
interface Blindness {
  readonly others: readonly string[]
  /** Another of them has told it already. */
  readonly isTold: boolean
}

/** @returns undefined where the cause is the point's own, or it is the only one */
export function commonBlindness(
  state: PlantState,
  plant: Plant,
  point: string,
  sinceMs: number,
): Blindness | undefined {
  const blind = blindPoints(state, plant)
  const others = blind.filter(id => id !== point)
  if (!blind.includes(point) || others.length === 0) return undefined
  const isTold = [...state.published.findings.values()].some(
    one =>
      one.finding === 'no_usable_unit' &&
      one.point !== null &&
      others.includes(one.point) &&
      Math.abs(one.sinceMs - sinceMs) <= TOGETHER_MS,
  )
  return { others, isTold }
}

function blindPoints(state: PlantState, plant: Plant): string[] {
  const silent = new Set([...state.published.findings.values()].flatMap(one => one.analyzers ?? []))
  return [...plant.points.values()].flatMap(({ id, analyzers, regulated, controlling }) => {
    const units = state.points.get(id)?.analyzers ?? []
    const isBlind = analyzers.every(
      (analyzer, i) => silent.has(analyzer) || state.feedsDown.includes(units[i]?.feed ?? ''),
    )
    return (regulated || controlling) && isBlind ? [id] : []
  })
}

/** @param own what is said of the point alone */
export function blindnessDetail(
  { others }: Blindness,
  own: FindingDetail,
  sinceMs: number,
  endMs: number,
): FindingDetail {
  const named = others.slice(0, NAMED).join(', ')
  const more = others.length > NAMED ? ` and ${String(others.length - NAMED)} more points` : ''
  return {
    values: { ...own.values, pointsForTheSameCause: others.join(' ') },
    what: `no usable reading since ${sayInstant(sinceMs)} (${sayDuration(endMs - sinceMs)}), nor at ${named}${more}`,
    advice: `one cause is likely: check network, gateway and power first; ${own.meanwhile ?? ''}`,
  }
}
