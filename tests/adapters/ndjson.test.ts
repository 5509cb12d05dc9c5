import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { gzipSync } from 'node:zlib'
import { afterAll, describe, expect, it } from 'vitest'
import { readNdjson } from '../../src/adapters/ndjson.js'
import type { RecordedInput, Rejected } from '../../src/model/recordedInput.js'

const folder = mkdtempSync(join(tmpdir(), 'ndjson-'))
afterAll(() => rmSync(folder, { recursive: true }))

async function read(content: string | Buffer, name = 'in.ndjson'): Promise<[RecordedInput[], string | undefined]> {
  const file = join(folder, name)
  writeFileSync(file, content)
  const inputs: RecordedInput[] = []
  const problem = await readNdjson(file, 'file', { input: input => inputs.push(input) })
  return [inputs, problem?.problem]
}

const good = '{"kind":"tick","time":"2026-05-09T10:15:00Z"}'

describe('reading NDJSON', () => {
  it.each([
    ['a byte-order mark', `\ufeff${good}\n`],
    ['CRLF', `${good}\r\n`],
    ['empty and blank lines', `\n \r\n\n${good}\n\n\t\n`],
    ['no last line end', good],
    ['gzip', gzipSync(`${good}\n`)],
    ['two gzip members (RFC 1952 §2.2)', Buffer.concat([gzipSync(good), gzipSync('\n')])],
  ])('reads a file with %s', async (_, content) => {
    expect(await read(content)).toEqual([[{ feed: 'file', message: JSON.parse(good) as unknown }], undefined])
  })

  it.each([
    ['{"kind":"reading","value":NaN}', 'malformed_json'],
    ['{"kind":"reading",', 'malformed_json'],
    ['garbage', 'malformed_json'],
    [`{"kind":"${'x'.repeat(70_000)}"}`, 'too_large'],
  ])('hands over what it cannot parse with its place: %.40s', async (line, code) => {
    const [inputs] = await read(`${good}\n${line}\n${good}\n`)
    expect(inputs).toHaveLength(3)
    expect(inputs[1]!.position).toMatch(/in\.ndjson:2$/)
    const message = inputs[1]!.message as Rejected
    expect(message).toMatchObject({ kind: 'rejected', faults: [{ code, field: '' }] })
    expect(message.excerpt.length).toBeLessThanOrEqual(1_024)
    expect([inputs[0]!.message, inputs[2]!.message]).toEqual([JSON.parse(good), JSON.parse(good)])
  })

  it('leaves what parses to the core, whatever it is', async () => {
    const [inputs] = await read('1e999\n[1]\n"text"\nnull\n{"__proto__":{"kind":"tick"}}\n')
    expect(inputs.map(input => input.message)).toEqual([
      Infinity,
      [1],
      'text',
      null,
      JSON.parse('{"__proto__":{"kind":"tick"}}'),
    ])
  })

  it('takes a line of a journal for the recorded input it is', async () => {
    const recorded = { feed: 'mqtt', receivedAt: '2026-05-09T10:15:01Z', message: { kind: 'tick', time: 'x' } }
    const [inputs] = await read(`${JSON.stringify(recorded)}\n{"kind":"a","feed":"b","message":1}\n`)
    expect(inputs).toEqual([recorded, { feed: 'file', message: { kind: 'a', feed: 'b', message: 1 } }])
  })

  it('makes control characters in an excerpt visible', async () => {
    const [inputs] = await read('\u001b[31mred\u0007\n')
    expect((inputs[0]!.message as Rejected).excerpt).toBe('\\u001b[31mred\\u0007')
  })

  it('says why a file cannot be read, after what could be', async () => {
    const missing = await readNdjson(join(folder, 'none'), 'file', { input: () => expect.unreachable() })
    expect(missing?.problem).toBe('there is no such file')
    expect((await readNdjson(folder, 'file', { input: () => expect.unreachable() }))?.problem).toMatch(/folder/)
    const packed = gzipSync(`${good}\n`.repeat(5_000))
    const [inputs, problem] = await read(packed.subarray(0, packed.length - 12))
    expect(problem).toBe('the gzip data ends too early')
    expect(inputs.length).toBeGreaterThan(0)
  })
})
