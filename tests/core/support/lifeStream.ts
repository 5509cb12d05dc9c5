import type { RegisterFile } from '../../../src/model/register.js'
import { DAY_MS, formatInstant } from '../../../src/model/time.js'
import { respond } from './busyStream.js'
import { smallRegister } from './register.js'
import { at, grab, inOrder, makeStream, prompt, reading, type Sent, work } from './stream.js'

export const LIFE_REGISTER: RegisterFile = smallRegister(['FE1', 'CFE', 'SW'], {
  standards: [
    { id: 'S-1', type: 'secondary_standard', analyzer: 'SW-A', assignedNtu: 34, assignedOn: '2026-01-12' },
    { id: 'S-9', type: 'secondary_standard', analyzer: 'CFE-A', assignedNtu: 36, assignedOn: '2026-01-12' },
  ],
})

/** Results of CFE that the bench read wrong for two days, and corrected at noon of the seventh. */
const WRONG_FROM = at(8, 2)
const WRONG_UNTIL = at(9, 22)
const WRONG_NTU = 0.15
export const CORRECTED_MS = at(10, 6)

/**
 * Eleven days in which every kind of event comes at least once. FE1-A drifts low, is answered, escalates, is zeroed and
 * proven; later the laboratory reads its samples wrong for two days and corrects them. SW-A stands high; a first zero leaves most of it, a second one is set on the standard of another analyzer.
 * CFE-B is silent for three hours; one bottle at CFE is wrong.
 */
export function lifeStream(): readonly Sent[] {
  const sent = makeStream({
    register: LIFE_REGISTER,
    seed: 61,
    days: 11,
    error: (analyzer, atMs) => {
      if (analyzer === 'FE1-A') return atMs < at(1) || atMs > at(7) ? 0 : (-0.04 * (atMs - at(1))) / DAY_MS
      if (analyzer === 'SW-A') return atMs < at(1) || atMs > at(7, 9) ? 0 : atMs < at(4, 9) ? 0.35 : 0.28
      return 0
    },
    sends: (analyzer, atMs) => analyzer !== 'CFE-B' || atMs < at(2, 4) || atMs > at(2, 7),
    grabError: (point, atMs) => {
      if (point === 'CFE') return atMs > at(5, 2) && atMs < at(5, 7) ? 0.4 : 0
      return point === 'FE1' && atMs > WRONG_FROM && atMs < WRONG_UNTIL ? -WRONG_NTU : 0
    },
    also: [
      prompt(at(0, 5), reading('FE9-A', at(0, 5), 0.2)),
      prompt(at(4, 1), respond('FE1-A', 1, at(4, 1), 'acknowledged', { by: 'shift lead' })),
      prompt(at(4, 9), work('SW-A', at(4, 9), 'zero', { id: 'w-1' })),
      prompt(at(7), work('FE1-A', at(7), 'zero', { id: 'w-2' })),
      prompt(at(7, 9), work('SW-A', at(7, 9), 'span', { id: 'w-3', reference: STRANGE })),
    ],
  })
  const corrections = sent
    .filter(one => one.message.point === 'FE1' && one.atMs > WRONG_FROM && one.atMs < WRONG_UNTIL)
    .map(one => {
      const { sampled, value, sampleId } = one.message as unknown as {
        sampled: string
        value: number
        sampleId: string
      }
      const right = grab('FE1', Date.parse(sampled), value + WRONG_NTU, sampleId, { corrects: sampleId })
      return { ...one, comesMs: CORRECTED_MS, message: right }
    })
  return inOrder([...sent, ...corrections])
}

/** The standard of another analyzer. */
const STRANGE = { type: 'secondary_standard', id: 'S-9', assigned: 36, expires: formatInstant(at(60)).slice(0, 10) }
