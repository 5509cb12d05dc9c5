import { sharedOffset } from '../../compare/laboratoryOffset.js'
import { pairResidualNtu } from '../../compare/pair.js'
import type { LaboratoryInterval } from '../../diagnose/evidence.js'
import { DIGITS, roundTo } from '../../model/rounding.js'
import { DAY_MS, formatInstant } from '../../model/time.js'
import { sayAbout, sayShift } from '../../recommend/summary.js'
import { median } from '../../statistics/robust.js'
import type { Note } from '../notes.js'
import type { PlantState } from '../plantState.js'
import type { PointState } from '../pointState.js'

/** After this a shift of the laboratory is no passing thing, and without grab samples nobody would be watched. */
const LONG_MS = 14 * DAY_MS
const LEAST_PAIRS = 6

/**
 * Where a shift of the laboratory has lasted long, each point's level inside it becomes its reference: from now on grab
 * samples count for what changes against it. What changed before, inside the interval, is in the level and is not seen.
 * @returns from where the points must be folded anew, or undefined
 */
export function adoptLevels(state: PlantState, interval: LaboratoryInterval, endMs: number): number | undefined {
  if (interval.reference !== null || endMs - interval.fromMs < LONG_MS || endMs % DAY_MS !== 0) return undefined
  const levelsNtu = Object.fromEntries(
    [...state.points.values()].flatMap(point => {
      const level = levelInside(point, interval.fromMs)
      return level === undefined ? [] : [[point.id, level] as const]
    }),
  )
  const adopted = { ...interval, reference: { fromMs: endMs, levelsNtu } }
  state.laboratory.intervals[state.laboratory.intervals.length - 1] = adopted
  if (Object.keys(levelsNtu).length > 0)
    state.laboratory.notes.push(adoptedNote(adopted, Object.keys(levelsNtu), endMs))
  return endMs
}

/** Analyzer minus grab inside the interval, NTU, of the units the one nearest to the grab. */
function levelInside({ pairs, fold }: PointState, fromMs: number): number | undefined {
  const offsetNtu = sharedOffset(fold.units.map(unit => unit.offset)).ntu
  const residuals = pairs.flatMap(pair => {
    if (pair.atMs < fromMs || pair.use !== 'laboratory_interval' || pair.qualifier !== null) return []
    const own = pair.units.flatMap(unit => (unit === null ? [] : [pairResidualNtu(pair, unit, offsetNtu)]))
    return own.length === 0 ? [] : [own.reduce((a, b) => (Math.abs(b) < Math.abs(a) ? b : a))]
  })
  return residuals.length < LEAST_PAIRS ? undefined : roundTo(median(residuals), DIGITS.ntu)
}

function adoptedNote(interval: LaboratoryInterval, points: readonly string[], endMs: number): Note {
  const { laboratoryInstrument: instrument, fromMs, likely } = interval
  return {
    key: `laboratory reference ${instrument ?? 'all'} ${String(fromMs)}`,
    atMs: endMs,
    type: 'reference.suspect',
    data: {
      summary: `The laboratory has read ${sayShift(likely)} since ${sayAbout(fromMs)}, ${String(LONG_MS / DAY_MS)} days; so that grabs count again, the level of these days is the reference of ${String(points.length)} points: only change is seen; check the instrument on a standard.`,
      notify: 'shift_summary',
      reference: 'laboratory',
      ...(instrument === null ? {} : { laboratoryInstrument: instrument }),
      at: formatInstant(endMs),
      because: [
        `analyzer minus grab inside the interval, NTU: ${points.map(point => `${point} ${String(interval.reference?.levelsNtu[point] ?? 0)}`).join(', ')}`.slice(
          0,
          400,
        ),
        'an analyzer that drifted within these days is not seen by its grab samples; a verification on a standard would show it',
      ],
      ask: 'check the laboratory instrument on a standard in date, and verify analyzers that matter on theirs',
    },
  }
}

/** What a grab sample of a point is net of inside a long shift, NTU; null where pairs of that time are left out. */
export function referenceLevel(intervals: readonly LaboratoryInterval[], point: string, atMs: number): number | null {
  const interval = intervals.find(one => atMs >= one.fromMs && (one.untilMs === null || atMs < one.untilMs))
  if (interval === undefined) return 0
  const { reference } = interval
  return reference === null || atMs < reference.fromMs ? null : (reference.levelsNtu[point] ?? null)
}
