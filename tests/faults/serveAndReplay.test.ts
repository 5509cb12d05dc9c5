import { execFileSync } from 'node:child_process'
import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { eventually } from '../support/eventually.js'
import { build, MAIN, SAMPLES } from './built.js'
import { writeBeginning } from './expected.js'
import { temporaryFolder } from './killed.js'
import { startSender, startServe } from './processes.js'

const REGISTER = join(SAMPLES, 'register.yaml')

describe('serve and replay', () => {
  const { folder, remove } = temporaryFolder()
  const stream = join(folder, 'stream.ndjson')
  const store = join(folder, 'plant.db')
  const events = join(folder, 'events.ndjson')
  beforeAll(async () => {
    build()
    await writeBeginning(stream, '2026-04-17T12:00:00Z')
    const service = await startServe([
      ...['--register', REGISTER, '--store', store, '--ticks', 'event', '--events', events, '--port', '0'],
      ...['--kinds', 'reading', 'grab', 'work', 'process'],
    ])
    const sender = startSender(`mqtt://127.0.0.1:${service.port!}`, stream, 'turbidrift/in/sample', 500)
    try {
      await eventually('everything is acknowledged', sender.done, 50_000)
      expect(await service.kill('SIGTERM')).toBe(0)
    } finally {
      sender.end()
      await service.kill('SIGKILL')
    }
  })
  afterAll(remove)

  it('give the same bytes for the same messages', () => {
    const out = join(folder, 'replayed.ndjson')
    turbidrift('replay', '--register', REGISTER, stream, '--out', out)
    expect(readFileSync(out, 'utf8')).toBe(readFileSync(events, 'utf8'))
  })

  it('give the same bytes when the journal is what is replayed', () => {
    const journal = join(folder, 'journal.ndjson')
    writeFileSync(journal, turbidrift('export-journal', '--store', store))
    const out = join(folder, 'from-journal.ndjson')
    turbidrift('replay', journal, '--out', out)
    expect(readFileSync(out, 'utf8')).toBe(readFileSync(events, 'utf8'))
    expect(readFileSync(out, 'utf8')).toContain('recommendation.opened')
  })
})

function turbidrift(...args: readonly string[]): Buffer {
  return execFileSync(process.execPath, [MAIN, ...args], { maxBuffer: 1 << 28, stdio: ['ignore', 'pipe', 'pipe'] })
}
