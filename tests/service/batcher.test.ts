import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { BATCH_LIMITS, type Batcher, createBatcher } from '../../src/service/batcher.js'
import { manualSchedule } from './manualSchedule.js'

const LIMITS = { maxItems: 5, capacity: 8, quietMs: 3, maxPauses: 3, retryMs: 50, attempts: 4 }

describe('batcher', () => {
  it('writes what came together as one batch and then acknowledges in order', () => {
    const run = start()
    for (const n of [1, 2, 3]) run.offer(n)
    expect(run.written).toEqual([])
    expect(run.acknowledged).toEqual([])
    run.clock.runAll()
    expect(run.written).toEqual([[1, 2, 3]])
    expect(run.acknowledged).toEqual([1, 2, 3])
  })

  it('writes a full batch without waiting', () => {
    const run = start()
    for (const n of [1, 2, 3, 4, 5, 6]) run.offer(n)
    expect(run.written).toEqual([[1, 2, 3, 4, 5]])
    run.clock.runAll()
    expect(run.written.at(-1)).toEqual([6])
  })

  it('does not wait for ever where messages trickle in', () => {
    const run = start()
    run.offer(1)
    for (const n of [2, 3, 4]) {
      run.offer(n)
      run.clock.runNext()
    }
    expect(run.written).toEqual([[1, 2, 3, 4]])
  })

  it('acknowledges nothing while the disk fails, and holds sources up', () => {
    const run = start({ failures: 2 })
    for (let n = 1; n <= 20; n++) run.offer(n)
    expect(run.acknowledged).toEqual([])
    expect(run.taken).toEqual([1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13])
    run.clock.runAll()
    expect(run.written.flat()).toEqual(Array.from({ length: 20 }, (_, i) => i + 1))
    expect(run.acknowledged).toEqual(run.written.flat())
    expect(run.prepared).toEqual(run.written)
    expect(run.failed).toBe(2)
  })

  it('acknowledges only what the disk has made safe, and works one batch ahead of it', () => {
    const run = start({ slowDisk: true })
    for (let n = 1; n <= 16; n++) run.offer(n)
    run.clock.runAll()
    expect(run.written).toEqual([
      [1, 2, 3, 4, 5],
      [6, 7, 8, 9, 10],
    ])
    expect(run.acknowledged).toEqual([])
    run.makeSafe()
    expect(run.acknowledged).toEqual([1, 2, 3, 4, 5])
    run.clock.runAll()
    expect(run.written.at(-1)).toEqual([11, 12, 13, 14, 15])
    expect(run.acknowledged).toEqual([1, 2, 3, 4, 5])
    for (let turn = 0; turn < 3; turn++) {
      run.makeSafe()
      run.clock.runAll()
    }
    expect(run.acknowledged).toEqual(run.taken)
    expect(run.acknowledged).toHaveLength(16)
  })

  it('gives up where the disk cannot make a batch safe, and acknowledges nothing of it', () => {
    const run = start({ slowDisk: true })
    for (let n = 1; n <= 10; n++) run.offer(n)
    run.makeSafe(new Error('input/output error'))
    run.clock.runAll()
    run.makeSafe()
    expect(run.lost).toBe(1)
    expect(run.acknowledged).toEqual([])
  })

  it('ends only when what it has written is safe', async () => {
    const run = start({ slowDisk: true })
    run.offer(1)
    let ended = false
    const stopped = run.batcher.stop().then(() => (ended = true))
    run.clock.runAll()
    await Promise.resolve()
    expect(ended).toBe(false)
    run.makeSafe()
    await stopped
    expect(run.acknowledged).toEqual([1])
  })

  it('gives up after the attempts allowed and acknowledges nothing more', () => {
    const run = start({ failures: 1_000 })
    run.offer(1)
    run.clock.runAll()
    expect(run.failed).toBe(LIMITS.attempts - 1)
    expect(run.lost).toBe(1)
    run.offer(2)
    run.clock.runAll()
    expect(run.taken).toEqual([1])
    expect(run.acknowledged).toEqual([])
  })

  it('takes an error of the core as lost: the state behind it is spent', () => {
    const run = start({ poison: 2 })
    for (const n of [1, 2, 3]) run.offer(n)
    run.clock.runAll()
    expect(run.lost).toBe(1)
    expect(run.written).toEqual([])
    expect(run.acknowledged).toEqual([])
  })

  it('writes what it has when it is stopped, then takes no more', async () => {
    const run = start()
    for (const n of [1, 2, 3, 4, 5, 6, 7]) run.offer(n)
    const stopped = run.batcher.stop()
    run.offer(8)
    run.clock.runAll()
    await stopped
    expect(run.acknowledged).toEqual([1, 2, 3, 4, 5, 6, 7])
    await run.batcher.stop()
  })

  it('keeps its promises under any interleaving of offers, timers and failures', () => {
    const command = fc.oneof(
      { weight: 6, arbitrary: fc.constant('offer' as const) },
      { weight: 2, arbitrary: fc.constant('timer' as const) },
      { weight: 1, arbitrary: fc.constant('fail' as const) },
      { weight: 1, arbitrary: fc.constant('repeat' as const) },
      { weight: 2, arbitrary: fc.constant('safe' as const) },
    )
    fc.assert(
      fc.property(
        fc.array(command, { maxLength: 200 }),
        fc.boolean(),
        fc.boolean(),
        (commands, stopAtEnd, slowDisk) => {
          const run = start({ slowDisk })
          let n = 0
          const offered: number[] = []
          for (const each of commands) {
            if (each === 'timer') run.clock.runNext()
            else if (each === 'fail') run.failures++
            else if (each === 'safe') run.makeSafe()
            else {
              if (each === 'offer' || n === 0) n++
              offered.push(n)
              run.offer(n)
            }
            const written = run.written.flat()
            expect(run.acknowledged).toEqual(written.slice(0, run.acknowledged.length))
            expect(run.acknowledged.length).toBe(run.safe.flat().length)
            expect(run.written.length - run.safe.length).toBeLessThanOrEqual(2)
            expect(run.taken).toEqual(offered.slice(0, run.taken.length))
            expect(run.taken.length - run.prepared.flat().length).toBeLessThanOrEqual(LIMITS.capacity)
          }
          if (stopAtEnd) void run.batcher.stop()
          run.clock.runAll()
          while (run.makeSafe()) run.clock.runAll()
          expect(run.written.every(batch => batch.length <= LIMITS.maxItems)).toBe(true)
          expect(run.written.flat()).toEqual(offered.slice(0, run.written.flat().length))
          expect(run.acknowledged).toEqual(run.written.flat())
          if (run.lost === 0) expect(run.prepared).toEqual(run.written)
          if (run.lost === 0 && !stopAtEnd) expect(run.acknowledged).toEqual(offered)
        },
      ),
      { seed: 20261125, numRuns: 300 },
    )
  })

  it('hands on what sources have to remember with the inputs it came with, the newest last, also without any', () => {
    const clock = manualSchedule()
    const batches: unknown[] = []
    const acknowledged: string[] = []
    const batcher = createBatcher<null>({
      prepare: (inputs, rows) => {
        batches.push([inputs.map(({ message }) => message), Object.fromEntries(rows)])
        return null
      },
      write: () => {},
      synced: done => done(),
      written: () => {},
      failed: () => {},
      lost: () => {},
      schedule: clock.schedule,
      limits: LIMITS,
    })
    const item = (name: string, rows: Record<string, string>, message?: number) => ({
      ...(message === undefined ? {} : { input: { feed: 'site', message } }),
      rows: new Map(Object.entries(rows)),
      committed: () => acknowledged.push(name),
    })
    batcher.offer(item('first', { a: '1', b: '1' }, 1))
    batcher.offer(item('second', { a: '2' }, 2))
    clock.runAll()
    batcher.offer(item('alone', { c: '3' }))
    clock.runAll()
    expect(batches).toEqual([
      [[1, 2], { a: '2', b: '1' }],
      [[], { c: '3' }],
    ])
    expect(acknowledged).toEqual(['first', 'second', 'alone'])
  })

  it('stands by the sizes it states', () => {
    expect(BATCH_LIMITS.maxItems).toBe(500)
    expect(BATCH_LIMITS.quietMs * BATCH_LIMITS.maxPauses).toBeLessThanOrEqual(25)
  })
})

interface Run {
  readonly batcher: Batcher
  readonly clock: ReturnType<typeof manualSchedule>
  readonly offer: (n: number) => void
  readonly taken: number[]
  readonly prepared: number[][]
  readonly written: number[][]
  /** Batches the disk has made safe. */
  readonly safe: number[][]
  readonly acknowledged: number[]
  /** Lets a slow disk finish, or fail. False where it has nothing to do. */
  readonly makeSafe: (error?: Error) => boolean
  failures: number
  failed: number
  lost: number
}

function start(options: { failures?: number; poison?: number; slowDisk?: boolean } = {}): Run {
  const clock = manualSchedule()
  let syncing: ((error?: Error) => void) | undefined
  const batcher = createBatcher<readonly number[]>({
    prepare: inputs => {
      const batch = inputs.map(input => input.message as number)
      if (options.poison !== undefined && batch.includes(options.poison)) throw new Error('a bug of the core')
      run.prepared.push(batch)
      return batch
    },
    write: batch => {
      if (run.failures > 0) {
        run.failures--
        throw new Error('disk full')
      }
      run.written.push([...batch])
    },
    synced: done => {
      if (syncing !== undefined) throw new Error('asked twice')
      const upTo = run.written.length
      syncing = error => {
        syncing = undefined
        if (error === undefined) run.safe.push(...run.written.slice(run.safe.length, upTo))
        done(error)
      }
      if (options.slowDisk !== true) syncing()
    },
    written: () => {},
    failed: () => run.failed++,
    lost: () => run.lost++,
    schedule: clock.schedule,
    limits: LIMITS,
  })
  const run: Run = {
    batcher,
    clock,
    offer: n => {
      batcher.offer(
        { input: { feed: 'site', message: n }, committed: () => run.acknowledged.push(n) },
        () => void run.taken.push(n),
      )
    },
    taken: [],
    prepared: [],
    written: [],
    safe: [],
    acknowledged: [],
    makeSafe: error => {
      const finish = syncing
      finish?.(error)
      return finish !== undefined
    },
    failures: options.failures ?? 0,
    failed: 0,
    lost: 0,
  }
  return run
}
