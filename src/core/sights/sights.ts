import type { Note } from '../notes.js'
import type { ExchangedBottles } from './exchangedBottles.js'
import type { PowerDip } from './powerDip.js'
import type { ProcessChange } from './processChange.js'

/**
 * What the plant's step has seen across points besides the laboratory. Lies outside snapshots, as the intervals of the
 * laboratory do: a point folds by what is seen now, and is folded anew from where that changed.
 */
export interface Sights {
  exchanged: ExchangedBottles[]
  dips: PowerDip[]
  processChanges: ProcessChange[]
  /** Said once, since the last instant. */
  notes: Note[]
}

export function newSights(): Sights {
  return { exchanged: [], dips: [], processChanges: [], notes: [] }
}

/** What of it concerns one point. */
export interface PointSights {
  /** Keys of pairs whose bottle was likely exchanged with another point's. */
  readonly exchanged: readonly string[]
  /** Begin of power dips by analyzer: from there it has to settle. */
  readonly restarts: readonly { readonly analyzer: string; readonly atMs: number }[]
  /** Hours in which the level moved with the process: no shift of a floor in them is fouling. */
  readonly processChanges: readonly { readonly fromMs: number; readonly untilMs: number | null }[]
}

export const NOTHING_SEEN: PointSights = { exchanged: [], restarts: [], processChanges: [] }

export function sightsOf(sights: Sights, point: string, analyzers: readonly string[]): PointSights {
  const { exchanged, dips, processChanges } = sights
  if (exchanged.length + dips.length + processChanges.length === 0) return NOTHING_SEEN
  return {
    exchanged: exchanged.flatMap(one => one.bottles.flatMap(bottle => (bottle.point === point ? [bottle.key] : []))),
    restarts: dips.flatMap(dip =>
      dip.analyzers.flatMap(analyzer => (analyzers.includes(analyzer) ? [{ analyzer, atMs: dip.fromMs }] : [])),
    ),
    processChanges: processChanges.flatMap(change =>
      change.points.some(one => one.point === point) ? [{ fromMs: change.fromMs, untilMs: change.untilMs }] : [],
    ),
  }
}
