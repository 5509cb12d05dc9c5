import { createHash } from 'node:crypto'
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { format, resolveConfig } from 'prettier'
import { describe, expect, it } from 'vitest'
import { toCloudEvent } from '../../../src/model/cloudEvent.js'
import { EVENT_TYPES } from '../../../src/model/vocabulary.js'
import { LIFE_REGISTER, lifeStream } from '../support/lifeStream.js'
import { messagesOf, run, textOf } from '../support/run.js'
import { sampleMessages, sampleRegister } from '../support/sample.js'

/**
 * What the core said when these files were written. After a change that is meant to alter events, write them anew:
 *
 *   GOLDEN=write npm test -- tests/core/golden
 *
 * and read the difference before it goes in.
 */
const WRITE = process.env.GOLDEN === 'write'
const HERE = new URL('./', import.meta.url)
const DAYS = 20

describe('golden files', () => {
  it(`the first ${String(DAYS)} days of the sample stream give the events they gave`, { timeout: 60_000 }, async () => {
    const { events } = run(sampleMessages(DAYS), { register: sampleRegister(), ticks: 'event' })
    const byType: Record<string, number> = {}
    for (const { type } of events) byType[type] = (byType[type] ?? 0) + 1
    const found = {
      days: DAYS,
      events: events.length,
      byType: Object.fromEntries(Object.entries(byType).sort(([a], [b]) => (a < b ? -1 : 1))),
      sha256: createHash('sha256').update(textOf(events)).digest('hex'),
    }
    expect(found).toEqual(await golden('sample-stream.json', found))
  })

  it('an event of each type looks as it looked', async () => {
    const { events } = run(messagesOf(lifeStream()), { register: LIFE_REGISTER, ticks: 'event' })
    for (const type of EVENT_TYPES) {
      const event = events.find(one => one.type === type)
      if (event === undefined) throw new Error(`the stream brings no ${type}`)
      const found = toCloudEvent(event, 'turbidrift')
      expect(found).toEqual(await golden(`events/${type}.json`, found))
    }
  })
})

/** The file's content, written first where that was asked for. */
async function golden(name: string, found: unknown): Promise<unknown> {
  const file = new URL(name, HERE)
  if (WRITE) {
    mkdirSync(new URL('./', file), { recursive: true })
    const style = await resolveConfig(fileURLToPath(file))
    writeFileSync(file, await format(JSON.stringify(found), { ...style, parser: 'json' }))
  }
  return JSON.parse(readFileSync(file, 'utf8'))
}
