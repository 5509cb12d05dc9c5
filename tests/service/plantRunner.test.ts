import { describe, expect, it } from 'vitest'
import { openStore } from '../../src/adapters/sqliteStore.js'
import { exportJournal } from '../../src/service/exportJournal.js'
import { createPlantRunner, type PlantRunner } from '../../src/service/plantRunner.js'
import { recoverState } from '../../src/service/recover.js'
import type { RecordedInput } from '../../src/model/recordedInput.js'
import { fakeCore, type FakeState, reading, recorded } from './fakeCore.js'

describe('plant runner', () => {
  it('numbers inputs without a gap and writes the ticks it makes between them', () => {
    const runner = start()
    const first = runner.advance([recorded(0), recorded(1)])
    const second = runner.advance([recorded(4)])
    expect(first.journal.map(row => [row.seq, (JSON.parse(row.input) as RecordedInput).feed])).toEqual([
      [1, 'in'],
      [2, 'clock'],
      [3, 'in'],
    ])
    expect(second.journal.map(row => row.seq)).toEqual([4, 5])
    expect(second.events).toHaveLength(1)
  })

  it('makes no ticks of its own where the inputs hold them', () => {
    const runner = start('recorded')
    const batch = runner.advance([
      recorded(0),
      { feed: 'clock', message: { kind: 'tick', time: '2026-04-01T00:09:00Z' } },
    ])
    expect(batch.journal).toHaveLength(2)
    expect(batch.events).toHaveLength(1)
  })

  it('keeps refused messages with what was wrong and where they stood', () => {
    const batch = start().advance([{ feed: 'in', position: 'a.csv:7', message: { kind: 'riddle' } }])
    expect(batch.rejects).toMatchObject([{ seq: 1, feed: 'in', position: 'a.csv:7', excerpt: '{"kind":"riddle"}' }])
    expect(batch.positions).toEqual(new Map([['in', 'a.csv:7']]))
  })

  it.each([
    ['a number beyond a double', JSON.parse('{"kind":"reading","value":1e999}') as unknown],
    ['nesting beyond the stack', JSON.parse('['.repeat(30_000) + ']'.repeat(30_000)) as unknown],
  ])('records %s as refused instead of failing', (_what, message) => {
    const batch = start().advance([{ feed: 'in', message }])
    expect(JSON.parse(batch.journal[0]!.input)).toMatchObject({ message: { kind: 'rejected' } })
    expect(batch.rejects).toHaveLength(1)
  })

  it('shows the core what the journal holds, so that a replay sees the same', () => {
    const seen: unknown[] = []
    const core = {
      ...fakeCore,
      step: (state: FakeState, input: RecordedInput) => {
        seen.push(input)
        return fakeCore.step(state, input)
      },
    }
    const runner = createPlantRunner(core.create('p'), { ...OPTIONS, core, ticks: 'recorded' })
    const message = { kind: 'reading', analyzer: 'P-A', time: '2026-04-01T00:00:00Z', value: -0, nothing: undefined }
    const [row] = runner.advance([{ feed: 'in', message }]).journal
    expect(seen).toStrictEqual([JSON.parse(row!.input)])
  })

  it('comes back from any point between two batches to the state it would have had', () => {
    const whole = start()
    const expected = [...Array(40).keys()].flatMap(n => whole.advance([recorded(n)]).events.map(event => event.body))
    for (const saveAt of [0, 1, 7, 39]) {
      const opened = openStore(':memory:', 'p')
      if (!opened.ok) throw new Error(opened.problem)
      const { store } = opened
      const before = start()
      for (let n = 0; n < 40; n++) {
        if (n % 11 === 10) {
          // A restart: only the store is left.
          const remade: string[] = []
          const state = recoverState(fakeCore, store, 'p', events => remade.push(...events.map(event => event.id)))
          const known = new Set(store.outboxAfter(0, 1_000).map(row => row.id))
          expect(remade.every(id => known.has(id))).toBe(true)
          const again = createPlantRunner(state, {
            ...OPTIONS,
            core: fakeCore,
            ticks: 'event',
            lastSeq: store.lastSeq(),
          })
          Object.assign(before, again)
        }
        const batch = before.advance([recorded(n), ...(n > 0 ? [recorded(n - 1)] : [])])
        store.commit(n === saveAt ? { ...batch, state: before.serialise() } : batch)
      }
      expect(store.outboxAfter(0, 1_000).map(row => row.body)).toEqual(expected)
      const replayed = start('recorded')
      const lines = [...exportJournal(store)]
      const events = replayed.advance(lines.map(line => JSON.parse(line) as RecordedInput)).events
      expect(events.map(event => event.body)).toEqual(expected)
      store.close()
    }
    expect(reading(0)).toContain('2026-04-01T00:00:00')
  })
})

const OPTIONS = { lastSeq: 0, prefix: 'turbidrift', softwareVersion: '0.1.0' }

function start(ticks: 'event' | 'recorded' = 'event'): PlantRunner {
  return createPlantRunner(fakeCore.create('p'), { ...OPTIONS, core: fakeCore, ticks })
}
