import type { Grab } from '../model/messages.js'
import { formatInstant, sayInstant } from '../model/time.js'
import { toWholeUnit } from '../model/units.js'
import { sayNtu } from '../recommend/summary.js'
import type { PointContext } from './context.js'
import type { PointState } from './pointState.js'

/** Says which sample is left out because its local time came twice that night, and how it can still be used. */
export function noteUnclearTime(context: PointContext, state: PointState, grab: Grab, endMs: number): void {
  const id = grab.sampleId === undefined ? 'A grab sample' : `Grab sample ${grab.sampleId}`
  const value = grab.qualifier === undefined ? '' : `${grab.qualifier} `
  const also = formatInstant(grab.sampledAlsoMs ?? grab.sampledMs).slice(11, 16)
  state.fold.notes.push({
    key: `grab time ${context.point.id} ${String(grab.sampledMs)} ${grab.sampleId ?? ''}`,
    atMs: endMs,
    type: 'reference.suspect',
    data: {
      summary: `${id} at ${context.point.id}, ${value}${sayNtu(toWholeUnit(grab.value, grab.unit))} NTU, is not used; its local time came twice, ${sayInstant(grab.sampledMs)} and ${also} UTC, and the water differed: hand it in with its offset, as a correction.`,
      notify: 'shift_summary',
      reference: 'grab',
      point: context.point.id,
      ...(grab.sampleId === undefined ? {} : { sampleId: grab.sampleId }),
      ...(grab.laboratoryInstrument === undefined ? {} : { laboratoryInstrument: grab.laboratoryInstrument }),
      at: formatInstant(grab.sampledMs),
      because: [
        'clocks were put back that night, and the readings at the two instants differ by more than a comparison is known to',
      ],
      ask: 'find out which of the two hours it was and hand the result in with the offset of its time',
    },
  })
}
