import { describe, expect, it } from 'vitest'
import { addStretch, type Turn, turnsAfter } from '../../../src/service/kafka/place.js'

const TICK: Turn = { tick: 4, time: '2026-04-01T00:01:00Z', feedsDown: [] }

describe('turns of a partition', () => {
  it('make one stretch of what goes on where the last ended', () => {
    const turns: Turn[] = []
    addStretch(turns, 'in', 0, 5)
    addStretch(turns, 'in', 5, 9)
    addStretch(turns, 'rekeyed', 0, 2)
    addStretch(turns, 'in', 9, 10)
    addStretch(turns, 'in', 12, 13)
    expect(turns).toEqual([
      { topic: 'in', from: 0, to: 9 },
      { topic: 'rekeyed', from: 0, to: 2 },
      { topic: 'in', from: 9, to: 10 },
      { topic: 'in', from: 12, to: 13 },
    ])
  })

  it('after a place are those it does not include, the first one cut', () => {
    const turns: Turn[] = [{ topic: 'in', from: 0, to: 9 }, TICK, { topic: 'rekeyed', from: 3, to: 6 }]
    expect(turnsAfter(turns, { in: 7, rekeyed: 3, tick: 4 })).toEqual([
      { topic: 'in', from: 7, to: 9 },
      ...turns.slice(1),
    ])
    expect(turnsAfter(turns, { in: 9, rekeyed: 5, tick: 5 })).toEqual([{ topic: 'rekeyed', from: 5, to: 6 }])
    expect(turnsAfter(turns, { in: 9, rekeyed: 6, tick: 5 })).toEqual([])
  })
})
