import { execFileSync } from 'node:child_process'
import { createHash } from 'node:crypto'
import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { afterAll, afterEach, beforeAll, describe, expect, it, vi } from 'vitest'
import { registerMessage } from '../../src/core/registerInput.js'
import { BUSY_REGISTER, busyStream } from './support/busyStream.js'
import { type Compiled, compileCore } from './support/compiled.js'
import { stateText } from './support/fold.js'
import { messagesOf, run, textOf } from './support/run.js'

const messages = messagesOf(busyStream(71))
const play = (): ReturnType<typeof run> => run(messages, { register: BUSY_REGISTER, ticks: 'event' })
const first = play()

/** The same recorded input gives byte-identical events, whatever the machine thinks of time, place and language. */
describe('the core', () => {
  afterEach(() => {
    vi.unstubAllGlobals()
    vi.restoreAllMocks()
  })

  it('gives the same bytes and the same state twice', () => {
    const second = play()
    expect(textOf(second.events) === textOf(first.events)).toBe(true)
    expect(stateText(second.state) === stateText(first.state)).toBe(true)
    expect(first.events.length).toBeGreaterThan(300)
  })

  it('leaves the messages handed in as they were', () => {
    const before = JSON.stringify(messages)
    play()
    expect(JSON.stringify(messages) === before).toBe(true)
  })

  it('reaches no clock and no chance', () => {
    const forbidden = (what: string) => () => {
      throw new Error(`the core asked for ${what}`)
    }
    vi.spyOn(Date, 'now').mockImplementation(forbidden('Date.now'))
    vi.spyOn(Math, 'random').mockImplementation(forbidden('Math.random'))
    vi.spyOn(performance, 'now').mockImplementation(forbidden('performance.now'))
    vi.spyOn(globalThis.crypto, 'getRandomValues').mockImplementation(forbidden('getRandomValues'))
    vi.spyOn(globalThis.crypto, 'randomUUID').mockImplementation(forbidden('randomUUID'))
    vi.stubGlobal('Date', dateWithoutClock(Date, forbidden('new Date()')))
    expect(() => new Date()).toThrow('the core asked for')
    const { events } = play()
    vi.unstubAllGlobals()
    vi.restoreAllMocks()
    expect(textOf(events) === textOf(first.events)).toBe(true)
  })
})

describe('the core in a process of its own', () => {
  let compiled: Compiled
  beforeAll(() => {
    compiled = compileCore()
    const lines = [registerMessage(BUSY_REGISTER), ...messages].map(message => JSON.stringify(message))
    writeFileSync(join(compiled.folder, 'recording.ndjson'), `${lines.join('\n')}\n`)
  })
  afterAll(() => {
    compiled.remove()
  })

  it.each([
    ['UTC', 'C'],
    ['Pacific/Kiritimati', 'tr_TR.UTF-8'],
    ['America/St_Johns', 'de_DE.UTF-8'],
  ])('gives the same bytes under TZ=%s LC_ALL=%s', (TZ, language) => {
    const digest = fileURLToPath(new URL('support/digest.mjs', import.meta.url))
    const printed = execFileSync(
      process.execPath,
      [digest, compiled.folder, join(compiled.folder, 'recording.ndjson')],
      { env: { ...process.env, TZ, LANG: language, LC_ALL: language }, encoding: 'utf8' },
    )
    expect(JSON.parse(printed)).toEqual({
      events: first.events.length,
      sha256: createHash('sha256').update(textOf(first.events)).digest('hex'),
    })
  })
})

function dateWithoutClock(real: DateConstructor, refuse: () => never): DateConstructor {
  return new Proxy(real, {
    construct: (target, args: unknown[]) => (args.length === 0 ? refuse() : (Reflect.construct(target, args) as Date)),
    apply: refuse,
  })
}
