import { laboratoryVariance } from '../../compare/grab.js'
import { pairResidualNtu } from '../../compare/pair.js'
import type { Plant, Point } from '../../model/plant.js'
import { formatInstant, HOUR_MS, sayInstant } from '../../model/time.js'
import { toleranceAt } from '../../model/tolerance.js'
import { sayNtu } from '../../recommend/summary.js'
import { median } from '../../statistics/robust.js'
import type { Note } from '../notes.js'
import type { PlantState } from '../plantState.js'
import type { LoggedPair } from '../pointState.js'

/** Two bottles of one round, each with the water of the other's point. */
export interface ExchangedBottles {
  readonly bottles: readonly [Bottle, Bottle]
}

interface Bottle {
  readonly point: string
  readonly key: string
  readonly atMs: number
  /** End of the block with which the pair was taken: from there the point is folded anew. */
  readonly dueMs: number
  readonly sampleId: string | null
  readonly laboratoryInstrument: string | null
  readonly grabNtu: number
  readonly qualifier: '<' | '>' | null
  /** What stood on line at its own point. */
  readonly readingNtu: number
}

/** Bottles filled no farther apart belong to one round. */
export const ROUND_MS = 2 * HOUR_MS
/** A bottle does not fit its own point beyond so many uncertainties, and a tolerance; it fits the other within so many. */
const MISFIT_U = 4
const FIT_U = 2.5
/** What an analyzer may stand off unnoticed, tolerances, is part of both. */
const UNNOTICED = 0.25

/** Tells a pair from the others of its point. */
export function pairKey(pair: Pick<LoggedPair, 'atMs' | 'grabNtu' | 'sampleId'>): string {
  return `${String(pair.atMs)} ${pair.sampleId ?? String(pair.grabNtu)}`
}

/**
 * Looks for exchanged bottles among the pairs taken since an instant. Only what a pair is made
 * of is looked at, never how it was used, so that leaving the pairs out does not change what is seen.
 */
export function findExchanged(state: PlantState, plant: Plant, fromMs: number): ExchangedBottles[] {
  const misfits = [...state.points.values()].flatMap(({ id, pairs }) => {
    const point = plant.points.get(id)
    return point === undefined ? [] : misfitsOf(point, pairs, fromMs)
  })
  const fits = (one: Misfit): Misfit[] => misfits.filter(other => isExchange(one, other))
  return misfits.flatMap(one => {
    const [other, ...more] = nearestByPoint(one, fits(one))
    // A bottle that fits several others, as in a ring of three or two exchanges at once, names none of them.
    if (other === undefined || more.length > 0) return []
    const [back, ...others] = nearestByPoint(other, fits(other))
    if (back !== one || others.length > 0 || one.bottle.point > other.bottle.point) return []
    return [{ bottles: [one.bottle, other.bottle] as const }]
  })
}

interface Misfit {
  readonly bottle: Bottle
  readonly point: Point
  /** Variance of the comparison that is not the laboratory's: window and rate of change. */
  readonly windowVariance: number
}

function misfitsOf(point: Point, pairs: readonly LoggedPair[], fromMs: number): Misfit[] {
  const found: Misfit[] = []
  for (let k = pairs.length - 1; k >= 0; k--) {
    const pair = pairs[k]
    if (pair === undefined || pair.dueMs < fromMs) break
    const units = pair.units.filter(unit => unit !== null)
    if (units.length === 0 || !isCompared(pair)) continue
    const farOff = units.every(
      unit =>
        Math.abs(pairResidualNtu(pair, unit, 0)) >
        Math.max(unit.toleranceNtu, MISFIT_U * spreadNtu(point, unit.uNtu * unit.uNtu, unit.toleranceNtu)),
    )
    if (!farOff) continue
    const { atMs, dueMs, sampleId, laboratoryInstrument, grabNtu, qualifier } = pair
    const declared = laboratoryVariance({ unit: 'NTU' }, grabNtu, point.grab)
    found.push({
      point,
      windowVariance: Math.max(0, median(units.map(unit => unit.uNtu * unit.uNtu)) - declared),
      bottle: {
        point: point.id,
        key: pairKey(pair),
        ...{ atMs, dueMs, sampleId, laboratoryInstrument, grabNtu, qualifier },
        readingNtu: median(units.map(unit => unit.ntu)),
      },
    })
  }
  return found
}

/** Second bottles and those without a usable reading are no evidence in any case. */
function isCompared({ use }: LoggedPair): boolean {
  return (
    use === 'used' ||
    use === 'suspect' ||
    use === 'suspect_grab' ||
    use === 'exchanged_bottle' ||
    use === 'laboratory_interval'
  )
}

function isExchange(one: Misfit, other: Misfit): boolean {
  return (
    one.point !== other.point &&
    Math.abs(one.bottle.atMs - other.bottle.atMs) <= ROUND_MS &&
    fitsAt(one.bottle, other) &&
    fitsAt(other.bottle, one)
  )
}

function fitsAt(bottle: Bottle, { point, windowVariance, bottle: { readingNtu } }: Misfit): boolean {
  const variance = laboratoryVariance({ unit: 'NTU' }, readingNtu, point.grab) + windowVariance
  const toleranceNtu = toleranceAt(point.tolerance, readingNtu)
  const residualNtu =
    bottle.qualifier === '<'
      ? Math.max(0, readingNtu - bottle.grabNtu)
      : bottle.qualifier === '>'
        ? Math.min(0, readingNtu - bottle.grabNtu)
        : readingNtu - bottle.grabNtu
  return Math.abs(residualNtu) <= FIT_U * spreadNtu(point, variance, toleranceNtu)
}

function spreadNtu(point: Point, variance: number, toleranceNtu: number): number {
  const shared = point.grab.sharedStandardUncertaintyNtu
  const unnoticed = UNNOTICED * toleranceNtu
  return Math.sqrt(variance + shared * shared + unnoticed * unnoticed)
}

/** The nearest in time at each point. */
function nearestByPoint({ bottle }: Misfit, partners: readonly Misfit[]): Misfit[] {
  const nearest = new Map<string, Misfit>()
  for (const partner of partners) {
    const known = nearest.get(partner.bottle.point)
    const distanceMs = Math.abs(partner.bottle.atMs - bottle.atMs)
    if (known === undefined || distanceMs < Math.abs(known.bottle.atMs - bottle.atMs))
      nearest.set(partner.bottle.point, partner)
  }
  return [...nearest.values()]
}

export function exchangedNote({ bottles: [one, other] }: ExchangedBottles, endMs: number): Note {
  const sampleIds = [one, other].flatMap(({ sampleId }) => sampleId ?? [])
  const named =
    sampleIds.length === 2
      ? `Grab samples ${sampleIds.join(' and ')}`
      : `The grab samples of ${one.point} and ${other.point}`
  const instrument = one.laboratoryInstrument === other.laboratoryInstrument ? one.laboratoryInstrument : null
  return {
    key: `exchanged ${one.point} ${one.key} ${other.point} ${other.key}`,
    atMs: endMs,
    type: 'reference.suspect',
    data: {
      summary: `${named} of ${sayInstant(one.atMs)} are likely exchanged: ${sayResult(one)} NTU at ${one.point} and ${sayResult(other)} NTU at ${other.point}, where ${sayNtu(one.readingNtu)} and ${sayNtu(other.readingNtu)} NTU stand on line; neither is used: ask the laboratory.`,
      notify: 'shift_summary',
      reference: 'grab',
      points: [one.point, other.point],
      ...(sampleIds.length === 2 ? { sampleIds } : {}),
      ...(instrument === null ? {} : { laboratoryInstrument: instrument }),
      at: formatInstant(Math.min(one.atMs, other.atMs)),
      because: [
        `${one.point}: ${sayResult(one)} NTU is what ${other.point} reads (${sayNtu(other.readingNtu)} NTU), not what ${one.point} reads (${sayNtu(one.readingNtu)} NTU)`,
        `${other.point}: ${sayResult(other)} NTU is what ${one.point} reads, not what ${other.point} reads`,
        'the values are not moved: a correction by the laboratory, naming the sample it corrects, is taken at its own time',
      ],
      ask: `look which bottle was filled where; correct both results or repeat both samples`,
    },
  }
}

function sayResult({ qualifier, grabNtu }: Bottle): string {
  return `${qualifier ?? ''}${sayNtu(grabNtu)}`
}
