import { describe, expect, it } from 'vitest'
import { registerMessage } from '../../src/core/registerInput.js'
import { DAY_MS } from '../../src/model/time.js'
import { messagesOf, ofType, type Run, run } from './support/run.js'
import { smallRegister } from './support/register.js'
import { at, inOrder, makeStream, type Sent } from './support/stream.js'

const before = smallRegister(['FE1', 'CFE', 'SW'])
const sent = makeStream({
  register: before,
  seed: 81,
  days: 4,
  error: (analyzer, atMs) => (analyzer === 'SW-A' && atMs > at(1) ? 0.4 : 0),
})

describe('an edit of the register', () => {
  it('that changes nothing about the points leaves the charts going', () => {
    const renamed = edited({ ...before, name: 'Small plant, renamed' })
    const plain = run(messagesOf(sent), { register: before, ticks: 'event' })
    expect(renamed.state.points.get('SW')?.fold).toEqual(plain.state.points.get('SW')?.fold)
    expect(renamed.state.register?.file.name).toBe('Small plant, renamed')
  })

  it('that changes a unit leaves the charts going, and readings by the former method stop counting', () => {
    const sw = before.points.SW
    if (sw === undefined) throw new Error('the register has no SW')
    const analyzers = Object.fromEntries(
      Object.entries(sw.analyzers).map(([id, one]) => [id, { ...one, unit: 'FNU' as const }]),
    )
    const { state } = edited({ ...before, points: { ...before.points, SW: { ...sw, analyzers } } })
    const point = state.points.get('SW')
    expect(point?.pairs.some(pair => pair.atMs < at(2))).toBe(true)
    expect(point?.fold.units[0]?.estimate).not.toBeNull()
    expect(point?.analyzers[0]?.excluded.method_differs).toBeGreaterThan(100)
  })

  it('that takes a point out withdraws what was open about it and says no more of it', () => {
    const { events, state } = edited(smallRegister(['FE1', 'CFE']))
    const [opened] = ofType(events, 'recommendation.opened').filter(one => one.subject === 'SW-A')
    expect(opened).toBeDefined()
    const withdrawn = ofType(events, 'recommendation.withdrawn').filter(one => one.subject === 'SW-A')
    expect(withdrawn.map(one => one.data.recommendation)).toEqual([opened?.data.recommendation])
    expect(state.points.has('SW')).toBe(false)
    const after = ofType(events, 'shift.summary').filter(one => Date.parse(one.time) > at(3) + DAY_MS / 8)
    expect(after.length).toBeGreaterThan(1)
    for (const one of after) expect(JSON.stringify(one.data)).not.toContain('SW')
  })

  it('that puts a point in lets it begin at once, the others go on', () => {
    const { events, state } = edited(before, smallRegister(['FE1', 'CFE']))
    const first = ofType(events, 'analyzer.status').find(one => one.subject === 'SW-A')
    expect(Date.parse(first?.time ?? '')).toBeGreaterThan(at(3))
    expect(state.points.get('CFE')?.pairs.length).toBeGreaterThan(10)
  })

  it('that changes the units of a point lets its lines begin anew and keeps the blocks of the units that stay', () => {
    const cfe = before.points.CFE
    if (cfe === undefined) throw new Error('the register has no CFE')
    const { 'CFE-B': _gone, ...rest } = cfe.analyzers
    const { state } = edited({ ...before, points: { ...before.points, CFE: { ...cfe, analyzers: rest } } })
    const point = state.points.get('CFE')
    expect(point?.fold.units).toHaveLength(1)
    expect(point?.fold.lines).toHaveLength(0)
    expect(point?.pairs.every(pair => pair.atMs > at(3) - DAY_MS)).toBe(true)
  })
})

/** The first register for three days, then the other. */
function edited(after: typeof before, first = before): Run {
  const edit: Sent = { atMs: at(3), comesMs: at(3), message: registerMessage(after, first) }
  return run(messagesOf(inOrder([...sent, edit])), { register: first, ticks: 'event' })
}
