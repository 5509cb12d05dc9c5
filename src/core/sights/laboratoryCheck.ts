import type { LaboratoryInterval } from '../../diagnose/evidence.js'
import type { Plant } from '../../model/plant.js'
import { roundTo } from '../../model/rounding.js'
import { DAY_MS, formatInstant, sayInstant } from '../../model/time.js'
import { toleranceAt } from '../../model/tolerance.js'
import { sayAbout, sayNtu, sayShift } from '../../recommend/summary.js'
import { median } from '../../statistics/robust.js'
import type { Note } from '../notes.js'
import type { LaboratoryState, PlantState } from '../plantState.js'

type Check = LaboratoryState['checks'][number]
type Verdict = 'confirms' | 'right_again' | 'refutes' | 'cannot_tell'

/** A standard on which the shift would make fewer uncertainties than this cannot show it. */
const SHOWS_U = 2
/** What was said is remembered longer than this; an older check is not told any more. */
const SAID_WITHIN_MS = 30 * DAY_MS

/** Checks inside an interval, oldest first, that count by now. */
function checksIn(state: PlantState, interval: LaboratoryInterval, endMs: number): Check[] {
  return state.laboratory.checks.filter(
    check =>
      check.atMs >= interval.fromMs &&
      check.atMs <= endMs &&
      (interval.laboratoryInstrument === null || interval.laboratoryInstrument === check.laboratoryInstrument),
  )
}

interface Judged {
  readonly check: Check
  readonly verdict: Verdict
}

/**
 * Whether each check on a standard shows the shift: nearer to it than to nothing. It shows none where the standard is so
 * high that the shift would drown in what a result is uncertain by; one that shows none after one that did was made after
 * something was put right.
 */
function judged(state: PlantState, plant: Plant, interval: LaboratoryInterval, endMs: number): Judged[] {
  let wasOff = false
  return checksIn(state, interval, endMs).map(check => {
    const shows = showsShift(check, interval, plant)
    if (shows === true) wasOff = true
    const verdict = shows === undefined ? 'cannot_tell' : shows ? 'confirms' : wasOff ? 'right_again' : 'refutes'
    return { check, verdict }
  })
}

/** Undefined where the standard cannot tell. */
function showsShift(check: Check, interval: LaboratoryInterval, plant: Plant): boolean | undefined {
  const expectedNtu = -expectedAt(check.reference, interval, plant)
  if (Math.abs(expectedNtu) < SHOWS_U * uncertaintyAt(check.reference, plant)) return undefined
  return (check.asFound - check.reference) / expectedNtu >= 0.5
}

/** What the shift makes of analyzer minus grab at a level, NTU. */
function expectedAt(levelNtu: number, { likely: { form, size } }: LaboratoryInterval, plant: Plant): number {
  if (form === 'ntu') return size
  if (form === 'share') return size * levelNtu
  return size * median([...plant.points.values()].map(point => toleranceAt(point.tolerance, levelNtu)))
}

function uncertaintyAt(levelNtu: number, plant: Plant): number {
  const plans = [...plant.points.values()].map(point => point.grab)
  const absolute = Math.min(...plans.map(plan => plan.standardUncertaintyNtu))
  const relative = Math.min(...plans.map(plan => plan.relative)) * levelNtu
  return Math.sqrt(absolute * absolute + relative * relative)
}

/** Says of each check once whether it bears the shift out. The request stays: the results decide when it is over. */
export function sayChecks(state: PlantState, plant: Plant, interval: LaboratoryInterval, endMs: number): void {
  for (const one of judged(state, plant, interval, endMs)) {
    if (one.check.atMs < endMs - SAID_WITHIN_MS) continue
    const note = checkNote(one, interval, plant, endMs)
    if (!state.published.notes.has(note.key)) state.laboratory.notes.push(note)
  }
}

/** Found off on a standard and, at the last check, right: time of the first that found it so since. */
export function foundRightAgain(
  state: PlantState,
  plant: Plant,
  interval: LaboratoryInterval,
  endMs: number,
): number | undefined {
  const verdicts = judged(state, plant, interval, endMs)
  const lastOff = verdicts.findLastIndex(one => one.verdict === 'confirms')
  return verdicts.slice(lastOff + 1).find(one => one.verdict === 'right_again')?.check.atMs
}

/** What its checks say stands with the request. */
export function laboratoryReasons(state: PlantState, plant: Plant): string[] {
  const interval = state.laboratory.intervals.at(-1)
  if (interval === undefined) return []
  return judged(state, plant, interval, state.workedMs).map(
    ({ check, verdict }) => `${sayCheck(check)}: ${VERDICT_WORDS[verdict]}`,
  )
}

const VERDICT_WORDS: Readonly<Record<Verdict, string>> = {
  confirms: 'this bears the shift out',
  right_again: 'found off before, it is right again',
  refutes: 'this does not show the shift',
  cannot_tell: 'too high a standard to show the shift',
}

const NEXT_STEP: Readonly<Record<Verdict, string>> = {
  confirms: 'put it right by its own procedure; grabs count again once they agree',
  right_again: 'repeat a grab or two; all count again once they agree',
  refutes: 'the grabs still show it, so look at bottles, cell and handling',
  cannot_tell: 'check it on a standard near the level of the grabs',
}

function sayCheck({ laboratoryInstrument, reference, asFound, atMs }: Check): string {
  return `${laboratoryInstrument} read ${String(roundTo(asFound, 3))} on a standard of ${String(roundTo(reference, 3))} NTU, ${sayInstant(atMs)}`
}

function checkNote({ check, verdict }: Judged, interval: LaboratoryInterval, plant: Plant, endMs: number): Note {
  return {
    key: `laboratory check ${check.laboratoryInstrument} ${String(check.atMs)} ${String(check.reference)} ${String(interval.fromMs)}`,
    atMs: endMs,
    type: 'reference.suspect',
    data: {
      summary: `${sayCheck(check)}; ${VERDICT_WORDS[verdict]} (${sayShift(interval.likely)} since ${sayAbout(interval.fromMs)}): ${NEXT_STEP[verdict]}.`,
      notify: 'shift_summary',
      reference: 'laboratory',
      laboratoryInstrument: check.laboratoryInstrument,
      at: formatInstant(check.atMs),
      because: [
        `at ${sayNtu(check.reference)} NTU the shift would make ${sayNtu(Math.abs(expectedAt(check.reference, interval, plant)))} NTU; found ${sayNtu(check.asFound - check.reference)} NTU, a result is uncertain by ${sayNtu(uncertaintyAt(check.reference, plant))} NTU`,
      ],
      ask: NEXT_STEP[verdict],
    },
  }
}
