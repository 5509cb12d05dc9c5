import { EventEmitter } from 'node:events'
import type { MqttClient } from 'mqtt'
import { describe, expect, it } from 'vitest'
import { reconnectMs, reconnectWithJitter } from '../../src/adapters/mqttReconnect.js'

describe('wait before the next attempt', () => {
  it('doubles up to a minute, and varies by half of it', () => {
    expect([0, 1, 2, 3, 5, 6, 50].map(failures => reconnectMs(failures, 1))).toEqual([
      1_000, 2_000, 4_000, 8_000, 32_000, 60_000, 60_000,
    ])
    expect([0, 1, 6].map(failures => reconnectMs(failures, 0))).toEqual([500, 1_000, 30_000])
  })

  it('is set before the client plans its next attempt, and begins anew after a good connection only', () => {
    let nowMs = 0
    const emitter = new EventEmitter()
    const planned: number[] = []
    const client = Object.assign(emitter, { options: { reconnectPeriod: 0 } }) as unknown as MqttClient
    // As `mqtt` does it: its own listener comes first and reads the period.
    client.on('close', () => planned.push(client.options.reconnectPeriod!))
    reconnectWithJitter(
      client,
      () => nowMs,
      () => 1,
    )
    const failed = () => emitter.emit('close')
    const connected = (forMs: number) => {
      emitter.emit('connect', {})
      nowMs += forMs
      emitter.emit('close')
    }
    failed()
    failed()
    connected(5_000)
    connected(5_000)
    expect(planned).toEqual([1_000, 2_000, 4_000, 8_000])
    connected(30_000)
    failed()
    expect(planned.slice(4)).toEqual([1_000, 2_000])
  })
})
