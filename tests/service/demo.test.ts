import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { gzipSync } from 'node:zlib'
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest'
import { openStore } from '../../src/adapters/sqliteStore.js'
import { runDemo } from '../../src/service/demo.js'
import { exportJournal } from '../../src/service/exportJournal.js'
import { SOFTWARE_VERSION } from '../../src/service/version.js'
import { simulatePlant } from '../../src/simulate/simulatePlant.js'
import type { RecordedInput } from '../../src/model/recordedInput.js'

describe('the tour', () => {
  let folder: string
  beforeEach(() => {
    folder = mkdtempSync(join(tmpdir(), 'turbidrift-demo-'))
  })
  afterEach(() => {
    vi.restoreAllMocks()
    rmSync(folder, { recursive: true, force: true })
  })

  it('ends at the first signal, however much is still to be sent', async () => {
    const { registerYaml, messages, truthJson } = simulatePlant({ seed: 7, days: 2 })
    writeFileSync(join(folder, 'register.yaml'), registerYaml)
    writeFileSync(join(folder, 'truth.json'), truthJson)
    writeFileSync(join(folder, 'stream.ndjson.gz'), gzipSync(`${[...messages].join('\n')}\n`))
    const out = vi.spyOn(process.stdout, 'write').mockReturnValue(true)
    vi.spyOn(process.stderr, 'write').mockImplementation(text => {
      if (/^ +[0-9]+ %/.test(String(text))) process.emit('SIGINT')
      return true
    })
    expect(await runDemo({ samples: folder, folder: join(folder, 'demo') })).toBe(0)
    expect(out).not.toHaveBeenCalled()
  })

  it('takes the stream over real sockets into a store and sets the findings beside the truth', async () => {
    const { registerYaml, messages, truthJson } = simulatePlant({ seed: 7, days: 2 })
    const lines = [...messages]
    writeFileSync(join(folder, 'register.yaml'), registerYaml)
    writeFileSync(join(folder, 'truth.json'), truthJson)
    writeFileSync(join(folder, 'stream.ndjson.gz'), gzipSync(`${lines.join('\n')}\n`))
    let out = ''
    vi.spyOn(process.stdout, 'write').mockImplementation(text => {
      out += String(text)
      return true
    })
    vi.spyOn(process.stderr, 'write').mockReturnValue(true)
    expect(await runDemo({ samples: folder, folder: join(folder, 'demo') })).toBe(0)
    expect(out).toContain('fe4 standing')
    expect(out).toContain('Everything else: nothing opened.')

    const opened = openStore(join(folder, 'demo', 'plant.db'), 'hollin-weir')
    if (!opened.ok) throw new Error(opened.problem)
    const sent = [...exportJournal(opened.store)]
      .map(line => JSON.parse(line) as RecordedInput)
      .filter(({ feed }) => feed === 'in')
      .map(({ message }) => message)
    expect(sent).toEqual(lines.map(line => JSON.parse(line) as unknown))
    expect(opened.store.stateSeq()).toBe(opened.store.lastSeq())
    opened.store.close()
    expect(existsSync(join(folder, 'demo', 'evidence'))).toBe(true)
  }, 60_000)
})

describe('the version in every event', () => {
  it('is that of package.json', () => {
    const { version } = JSON.parse(readFileSync(new URL('../../package.json', import.meta.url), 'utf8')) as {
      version: string
    }
    expect(SOFTWARE_VERSION).toBe(version)
  })
})
