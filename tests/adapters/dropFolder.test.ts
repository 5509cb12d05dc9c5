import { mkdtempSync, readdirSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { createDropFolder, type DropFolder } from '../../src/adapters/dropFolder.js'
import { csvDefaults } from '../../src/adapters/inputSource.js'
import { parseRegister } from '../../src/adapters/registerFile.js'
import { resolvePlant } from '../../src/model/plant.js'
import type { RecordedInput } from '../../src/model/recordedInput.js'

const read = parseRegister('plant: p\npoints: { CFE: { analyzers: { CFE-A: { unit: NTU } } } }\n', 'r')
const plant = resolvePlant(read.ok ? read.file : (undefined as never))
let folder: string
let handed: RecordedInput[]
let drop: DropFolder

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'drop-'))
  handed = []
  drop = createDropFolder({
    folder,
    plant: () => plant,
    csv: map => csvDefaults(plant, map),
    hand: async inputs => void handed.push(...inputs),
  })
})
afterEach(() => rmSync(folder, { recursive: true }))

const put = (name: string, text: string): void => writeFileSync(join(folder, name), text)
const grab = (more: object = {}): string =>
  JSON.stringify({ kind: 'grab', point: 'CFE', sampled: '2026-05-09T10:15:00Z', value: 0.03, unit: 'NTU', ...more })

async function scanTwice(): ReturnType<DropFolder['scan']> {
  expect(await drop.scan()).toEqual([])
  return drop.scan()
}

describe('a drop folder', () => {
  it('reads a file once it rests, and puts it into done/', async () => {
    put('lab.csv', 'point;sampled;value;unit\nCFE;2026-05-09 10:15;<0,02;NTU\n')
    expect(await scanTwice()).toEqual([{ file: 'lab.csv', taken: 1, refused: [] }])
    expect(handed).toMatchObject([{ feed: 'drop', position: 'lab.csv:2', message: { kind: 'grab', value: '<0.02' } }])
    expect(readdirSync(join(folder, 'done'))).toEqual(['lab.csv'])
    expect(await scanTwice()).toEqual([])
    expect(handed).toHaveLength(1)
  })

  it('waits for a file that still grows', async () => {
    put('a.ndjson', `${grab()}\n`)
    await drop.scan()
    put('a.ndjson', `${grab()}\n${grab({ value: 0.04 })}\n`)
    expect(await drop.scan()).toEqual([])
    expect(await drop.scan()).toMatchObject([{ taken: 2 }])
  })

  it('takes the good rows of a bad file, and says what is wrong with the others', async () => {
    put(
      'a.ndjson',
      [
        grab(),
        grab({ point: 'CFX' }),
        '{"kind":',
        '{"kind":"tick","time":"2026-05-09T10:15:00Z"}',
        grab({ value: 'x' }),
      ].join('\n'),
    )
    const [result] = await scanTwice()
    expect(result).toMatchObject({ file: 'a.ndjson', taken: 1 })
    expect(handed.map(input => (input.message as { kind: string }).kind)).toEqual([
      'grab',
      'rejected',
      'rejected',
      'rejected',
      'rejected',
    ])
    expect(readdirSync(join(folder, 'refused')).sort()).toEqual(['a.ndjson', 'a.ndjson.reasons'])
    expect(readFileSync(join(folder, 'refused', 'a.ndjson.reasons'), 'utf8').split('\n')).toEqual([
      '1 rows taken',
      'a.ndjson:2 grab.point: "CFX" is refused: must be a point of the register',
      expect.stringMatching(/^a\.ndjson:3 message: "\{/),
      expect.stringMatching(/^a\.ndjson:4 kind: "tick" is refused: must be one of/),
      expect.stringMatching(/^a\.ndjson:5 grab\.value: "x" is refused/),
      '',
    ])
  })

  it('never takes a message for a recorded input of another feed', async () => {
    put('a.ndjson', `{"feed":"clock","message":${grab()}}\n`)
    await scanTwice()
    expect(handed).toMatchObject([{ feed: 'drop', position: 'a.ndjson:1' }])
  })

  it('keeps both of two files with one name', async () => {
    for (let i = 0; i < 2; i++) {
      put('a.ndjson', grab())
      await scanTwice()
    }
    expect(readdirSync(join(folder, 'done')).sort()).toEqual(['2-a.ndjson', 'a.ndjson'])
  })

  it('leaves hidden files, unfinished ones, folders and links alone', async () => {
    put('.hidden.ndjson', grab())
    put('b.ndjson.part', grab())
    symlinkSync('/etc/hostname', join(folder, 'c.ndjson'))
    expect(await scanTwice()).toEqual([])
    expect(handed).toEqual([])
  })

  it('says why a file as a whole cannot be read', async () => {
    put('a.csv', 'nothing,of,use\n1,2,3\n')
    expect(await scanTwice()).toMatchObject([{ taken: 0, refused: [expect.stringContaining('needs a column')] }])
  })
})
