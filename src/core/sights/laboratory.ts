import type { LaboratoryInterval } from '../../diagnose/evidence.js'
import {
  bestTail,
  changeSince,
  END_OF_INTERVAL,
  NO_SHIFT,
  type PointChange,
  type PointResiduals,
  shiftForm,
  SOONER_AFTER_CHECK,
  type Tail,
} from '../../diagnose/laboratory.js'
import type { Plant } from '../../model/plant.js'
import { DAY_MS, formatInstant, sayInstant } from '../../model/time.js'
import { DIGITS, roundTo } from '../../model/rounding.js'
import { median } from '../../statistics/robust.js'
import { OPENING } from '../../recommend/opening.js'
import { laboratorySentence, sayNtu } from '../../recommend/summary.js'
import type { Conclusion } from '../conclude.js'
import type { PlantState } from '../plantState.js'
import type { Note } from '../notes.js'
import { foundRightAgain, sayChecks } from './laboratoryCheck.js'
import { adoptLevels } from './longShift.js'

const SEARCH_DAYS = 14
/** Fewer points with grabs than this name no laboratory. */
const LEAST_POINTS = 4

/**
 * The laboratory seen across points. Declares an interval in which its results are shifted, or ends the one in force.
 * @returns instant from which every point must be folded anew, or undefined where nothing changed
 */
export function concludeLaboratory(
  state: PlantState,
  plant: Plant,
  conclusions: readonly Conclusion[],
  all: () => readonly PointResiduals[],
  endMs: number,
): number | undefined {
  const inForce = state.laboratory.intervals.at(-1)
  if (inForce?.untilMs === null) {
    sayChecks(state, plant, inForce, endMs)
    const adoptedFromMs = adoptLevels(state, inForce, endMs)
    if (!state.laboratory.hasNewPairs) return adoptedFromMs
    state.laboratory.hasNewPairs = false
    return endInterval(state, plant, all(), endMs) ?? adoptedFromMs
  }
  const named = conclusions.find(one => one.laboratory !== undefined && one.laboratory.probability >= OPENING.known)
  return named?.laboratory === undefined ? undefined : declareInterval(state, all(), named.laboratory.onsetMs, endMs)
}

function declareInterval(
  state: PlantState,
  all: readonly PointResiduals[],
  onsetMs: number,
  endMs: number,
): number | undefined {
  const changes = all.flatMap(series => changeSince(series, onsetMs, endMs) ?? [])
  if (changes.length < LEAST_POINTS) return undefined
  const shift = roundTo(median(changes.map(one => one.change)), DIGITS.tolerances)
  const before = new Map(changes.map(one => [one.point, one.before]))
  const form = shiftForm(changes)
  const likely = { ...form, size: roundTo(form.size, DIGITS.ntu) }
  const tail = bestTail(all, before, searchFrom(state, endMs), likely, NO_SHIFT)
  if (tail === undefined || tail.gain <= 0) return undefined
  const interval: LaboratoryInterval = {
    laboratoryInstrument: commonInstrument(state, tail.fromMs),
    fromMs: tail.fromMs,
    untilMs: null,
    shift,
    likely,
    points: changes.map(one => one.point).sort(),
    reference: null,
  }
  const instrument = interval.laboratoryInstrument
  state.laboratory.intervals.push(interval)
  state.laboratory.case = {
    target: { analyzer: null, point: null, laboratoryInstrument: instrument ?? 'all' },
    kind: 'laboratory',
    phase: 'open',
    openedMs: endMs,
    action: 'check_laboratory',
    causes: [{ cause: 'laboratory_bias', probability: 1 }],
    because: [
      `the grab samples of ${String(changes.length)} points moved together while the analyzers did not move against each other`,
    ],
    urgency: 'soon',
    estimate: null,
    finding: null,
    sinceMs: tail.fromMs,
    pendingAction: null,
  }
  state.laboratory.notes.push(suspectNote(interval, changes, endMs))
  return tail.fromMs
}

/** Not into an interval that has ended. */
function searchFrom(state: PlantState, endMs: number): number {
  return Math.max(endMs - SEARCH_DAYS * DAY_MS, state.laboratory.intervals.at(-1)?.untilMs ?? 0)
}

function endInterval(
  state: PlantState,
  plant: Plant,
  all: readonly PointResiduals[],
  endMs: number,
): number | undefined {
  const interval = state.laboratory.intervals.at(-1)
  if (interval === undefined) return undefined
  const before = new Map(
    all.flatMap(series => {
      const change = changeSince(series, interval.fromMs, endMs)
      return change === undefined ? [] : [[series.point, change.before] as const]
    }),
  )
  const tailFrom = (fromMs: number): Tail | undefined => bestTail(all, before, fromMs, NO_SHIFT, interval.likely)
  const rightMs = foundRightAgain(state, plant, interval, endMs)
  const tail =
    enough(tailFrom(interval.fromMs), END_OF_INTERVAL) ??
    (rightMs === undefined ? undefined : enough(tailFrom(rightMs), SOONER_AFTER_CHECK))
  if (tail === undefined) return undefined
  state.laboratory.intervals[state.laboratory.intervals.length - 1] = { ...interval, untilMs: tail.fromMs }
  state.laboratory.case = null
  state.laboratory.ended = {
    atMs: endMs,
    how: 'closed',
    reason: `the results agree with the analyzers again since ${sayInstant(tail.fromMs)}`,
  }
  return tail.fromMs
}

function enough(tail: Tail | undefined, least: { gain: number; points: number }): Tail | undefined {
  return tail !== undefined && tail.gain >= least.gain && tail.points >= least.points ? tail : undefined
}

/** The one instrument behind the newest samples, where there is one. */
function commonInstrument(state: PlantState, fromMs: number): string | null {
  const names = new Set<string | null>()
  for (const point of state.points.values())
    for (const pair of point.pairs) if (pair.atMs >= fromMs) names.add(pair.laboratoryInstrument)
  return names.size === 1 ? ([...names][0] ?? null) : null
}

function suspectNote(
  { laboratoryInstrument: instrument, fromMs, shift, likely, points }: LaboratoryInterval,
  changes: readonly PointChange[],
  endMs: number,
): Note {
  const moved = changes
    .map(one => `${one.point} ${sayNtu(one.change * one.toleranceNtu)}`)
    .sort()
    .join(', ')
  return {
    key: `laboratory ${instrument ?? 'all'} ${String(fromMs)}`,
    atMs: endMs,
    type: 'reference.suspect',
    data: {
      summary: laboratorySentence(instrument ?? 'all', likely, fromMs, points),
      notify: 'at_once',
      reference: 'laboratory',
      ...(instrument === null ? {} : { laboratoryInstrument: instrument }),
      points: [...points],
      at: formatInstant(fromMs),
      because: [
        `${points.join(', ')}: analyzer minus grab moved by ${String(shift)} tolerances (median of the points)`.slice(
          0,
          400,
        ),
        `the same in NTU: ${moved}`.slice(0, 400),
      ],
      ask: 'check the laboratory instrument on a standard in date; leave the analyzers alone until then',
    },
  }
}
