import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { resolvePlant } from '../../src/model/plant.js'
import { createFeedGaps, type Gaps } from '../../src/service/feedGaps.js'

const T0 = Date.UTC(2026, 4, 9, 10)
const plant = resolvePlant({
  plant: 'p',
  latenessS: 120,
  points: {
    FE1: { analyzers: { A: { unit: 'NTU', intervalS: 60 }, C: { unit: 'NTU', transmission: 'on_change' } } },
  },
})

/** A reading at so many seconds. */
const at = (seconds: number, more: object = {}) => ({
  kind: 'reading',
  analyzer: 'A',
  time: new Date(T0 + seconds * 1_000).toISOString(),
  value: 1,
  unit: 'NTU',
  ...more,
})
/** Far enough after all others for these to be settled. */
const END_S = 100_000

function counted(messages: readonly object[], receivedMs?: number): Gaps {
  const gaps = createFeedGaps(plant)
  let [sequenceGaps, missingReadings] = [0, 0]
  for (const message of messages) {
    const more = gaps.heard(message, receivedMs)
    sequenceGaps += more.sequenceGaps
    missingReadings += more.missingReadings
  }
  return { sequenceGaps, missingReadings }
}

describe('what did not come', () => {
  it.each<[string, object[], Gaps]>([
    ['nothing', [at(0), at(60), at(120), at(180), at(240)], { sequenceGaps: 0, missingReadings: 0 }],
    ['one reading', [at(0), at(120), at(300)], { sequenceGaps: 0, missingReadings: 1 }],
    ['an hour', [at(0), at(3_660), at(4_000)], { sequenceGaps: 0, missingReadings: 60 }],
    ['a pause of one and a half intervals', [at(0), at(90), at(210)], { sequenceGaps: 0, missingReadings: 0 }],
    ['a little more', [at(0), at(91), at(211)], { sequenceGaps: 0, missingReadings: 1 }],
    ['a gap that is not yet certain', [at(0), at(120)], { sequenceGaps: 0, missingReadings: 0 }],
    ['a gap filled in time', [at(0), at(120), at(60), at(180), at(300)], { sequenceGaps: 0, missingReadings: 0 }],
    ['repeats', [at(0), at(0), at(60), at(60), at(120), at(0), at(240)], { sequenceGaps: 0, missingReadings: 0 }],
    [
      'numbers left out',
      [at(0, { seq: 1 }), at(60, { seq: 2 }), at(120, { seq: 5 }), at(180, { seq: 6 }), at(240), at(300)],
      { sequenceGaps: 1, missingReadings: 0 },
    ],
    [
      'numbers from the beginning again',
      [at(0, { seq: 90 }), at(60, { seq: 91 }), at(120, { seq: 0 }), at(180, { seq: 1 }), at(240), at(300)],
      { sequenceGaps: 0, missingReadings: 0 },
    ],
    [
      'numbers out of order',
      [at(0, { seq: 1 }), at(120, { seq: 3 }), at(60, { seq: 2 }), at(180, { seq: 4 }), at(240), at(300)],
      { sequenceGaps: 0, missingReadings: 0 },
    ],
    [
      'a pause of an analyzer that sends on change, and a number left out',
      [
        at(0, { analyzer: 'C', seq: 1 }),
        at(9_000, { analyzer: 'C', seq: 3 }),
        at(20_000, { analyzer: 'C', seq: 4 }),
        at(30_000, { analyzer: 'C', seq: 5 }),
      ],
      { sequenceGaps: 1, missingReadings: 0 },
    ],
    [
      'what is no reading',
      [{ kind: 'grab' }, at(0, { analyzer: 'X' }), { ...at(0), time: 'now' }, 4 as unknown as object],
      { sequenceGaps: 0, missingReadings: 0 },
    ],
  ])('counts %s', (_, messages, expected) => {
    expect(counted(messages)).toEqual(expected)
  })

  it('is not moved by a reading from the future', () => {
    const messages = [at(0), at(10 * 365 * 86_400), at(60), at(180), at(400)]
    expect(counted(messages, T0 + 400_000)).toEqual({ sequenceGaps: 0, missingReadings: 1 })
  })

  it('is the same in every order that is on time, with repeats, and is what was lost', () => {
    const lost = fc.array(
      fc.integer({ min: 1, max: 4 }).map(n => n === 1),
      { minLength: 1, maxLength: 60 },
    )
    // A reading may overtake the ones of the two minutes before it; sorted by time of arrival.
    const delay = fc.array(fc.integer({ min: 0, max: 119 }), { minLength: 62, maxLength: 62 })
    fc.assert(
      fc.property(lost, delay, fc.boolean(), (isLost, delays, repeats) => {
        const kept = [false, ...isLost, false].flatMap((gone, i) => (gone ? [] : [i]))
        const arrivals = kept
          .flatMap(i => {
            const one = { message: at(60 * i, { seq: i }), arrivesS: 60 * i + delays[i]! }
            return repeats ? [one, { ...one, arrivesS: one.arrivesS + 7 }] : [one]
          })
          .sort((a, b) => a.arrivesS - b.arrivesS)
        const runs = kept.slice(1).filter((i, n) => i - kept[n]! > 1).length
        // Two more readings, so that all before them are certain; their own gap is counted with them.
        const last = kept.at(-1)!
        const closing = [at(END_S), at(END_S + 600)].map((message, n) => ({ ...message, seq: last + 1 + n }))
        const gaps = counted([...arrivals.map(({ message }) => message), ...closing])
        const whileClosing = Math.round((END_S - 60 * last) / 60) - 1
        expect(gaps).toEqual({
          sequenceGaps: runs,
          missingReadings: isLost.filter(Boolean).length + whileClosing,
        })
      }),
      { seed: 7, numRuns: 300 },
    )
  })
})
