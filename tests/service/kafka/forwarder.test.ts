import { describe, expect, it } from 'vitest'
import { LastingError, type OutRecord } from '../../../src/adapters/kafka/partitionLog.js'
import { createForwarder, FORWARD_LIMITS } from '../../../src/service/kafka/forwarder.js'
import { manualSchedule } from '../manualSchedule.js'

describe('forwarder', () => {
  it('says that a record is safe when it is, in the order of the offers', async () => {
    const { offer, sends, safe, clock } = start()
    for (let n = 0; n < 3; n++) offer(n)
    expect(safe).toEqual([])
    clock.runNext()
    expect(sends).toEqual([[0, 1, 2]])
    await settle()
    expect(safe).toEqual([0, 1, 2])
  })

  it('sends what failed again before anything else, and says nothing of it until then', async () => {
    const { offer, sends, safe, clock, failures } = start()
    failures.push(new Error('no leader'), new Error('no leader'))
    offer(0)
    clock.runNext()
    await settle()
    offer(1)
    expect(safe).toEqual([])
    for (let n = 0; n < 2; n++) {
      clock.runNext()
      await settle()
    }
    expect(sends).toEqual([[0], [0, 1], [0, 1]])
    expect(safe).toEqual([0, 1])
  })

  it('holds up who offers more than it keeps', async () => {
    const { offer, taken, clock } = start()
    for (let n = 0; n < FORWARD_LIMITS.capacity + 5; n++) offer(n)
    const before = taken.length
    expect(before).toBeLessThan(FORWARD_LIMITS.capacity + 5)
    clock.runAll()
    for (let n = 0; n < 5; n++) await settle()
    expect(taken).toHaveLength(FORWARD_LIMITS.capacity + 5)
  })

  it('sends what it has when it is stopped, and takes no more', async () => {
    const { offer, safe, forwarder } = start()
    offer(0)
    await forwarder.stop()
    offer(1)
    expect(safe).toEqual([0])
  })

  it('gives up where sending can never work', async () => {
    const { offer, safe, lost, failures, clock, sends } = start()
    failures.push(new LastingError('no permission'))
    offer(0)
    clock.runNext()
    await settle()
    clock.runAll()
    await settle()
    expect([sends.length, safe, lost.map(String)]).toEqual([1, [], ['LastingError: no permission']])
  })
})

function start() {
  const clock = manualSchedule()
  const sends: number[][] = []
  const safe: number[] = []
  const taken: number[] = []
  const lost: unknown[] = []
  const failures: Error[] = []
  const forwarder = createForwarder({
    sender: {
      send: async (records: readonly OutRecord[]) => {
        sends.push(records.map(({ key }) => Number(key)))
        const failure = failures.shift()
        if (failure !== undefined) throw failure
      },
    },
    schedule: clock.schedule,
    failed: () => {},
    lost: error => lost.push(error),
  })
  const offer = (n: number) =>
    forwarder.offer(
      [{ topic: 't', key: String(n), value: '' }],
      () => safe.push(n),
      () => taken.push(n),
    )
  return { clock, sends, safe, taken, lost, failures, forwarder, offer }
}

function settle(): Promise<void> {
  return new Promise(resolve => {
    setImmediate(resolve)
  })
}
