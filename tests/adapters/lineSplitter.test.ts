import { Buffer } from 'node:buffer'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { createLineSplitter } from '../../src/adapters/lineSplitter.js'
import { MAX_MESSAGE_BYTES } from '../../src/adapters/payload.js'

type Seen = ['line', string, number] | ['tooLong', number, string, number]

function split(chunks: readonly Buffer[]): Seen[] {
  const seen: Seen[] = []
  const splitter = createLineSplitter({
    line: (text, number) => seen.push(['line', text, number]),
    tooLong: (size, beginning, number) => seen.push(['tooLong', size, beginning.slice(0, 10), number]),
  })
  for (const chunk of chunks) splitter.push(chunk)
  splitter.end()
  return seen
}

/** Cuts bytes into pieces of the sizes given, again and again. */
function cut(bytes: Buffer, sizes: readonly number[]): Buffer[] {
  const chunks: Buffer[] = []
  for (let at = 0, turn = 0; at < bytes.length; turn += 1) {
    const size = sizes[turn % sizes.length]!
    chunks.push(bytes.subarray(at, at + size))
    at += size
  }
  return chunks
}

describe('cutting bytes into lines', () => {
  it.each([
    ['a\nb\n', ['a', 'b']],
    ['a\r\nb', ['a', 'b']],
    ['\n\n', ['', '']],
    ['', []],
    ['only', ['only']],
    ['a\u2028b\n', ['a\u2028b']],
  ])('cuts %j', (text, lines) => {
    expect(split([Buffer.from(text)]).map(seen => seen[1])).toEqual(lines)
  })

  it('refuses ten megabytes without holding them, and leaves the lines around intact', () => {
    const chunk = Buffer.alloc(1 << 20, 'x')
    const chunks = [Buffer.from('before\n'), ...Array.from({ length: 10 }, () => chunk), Buffer.from('\r\nafter\n')]
    expect(split(chunks)).toEqual([
      ['line', 'before', 1],
      ['tooLong', 10 * (1 << 20), 'xxxxxxxxxx', 2],
      ['line', 'after', 3],
    ])
  })

  it.each([
    [MAX_MESSAGE_BYTES, 'line'],
    [MAX_MESSAGE_BYTES + 1, 'tooLong'],
  ])('counts bytes: %i is %s, whole or in pieces', (size, expected) => {
    const twoBytes = 'é'.repeat(Math.floor(size / 2)) + (size % 2 === 1 ? 'x' : '')
    for (const text of ['x'.repeat(size), twoBytes]) {
      for (const end of ['\n', '\r\n', '']) {
        const bytes = Buffer.from(text + end)
        expect(split([bytes])[0]![0]).toBe(expected)
        expect(split(cut(bytes, [4_096]))).toEqual(split([bytes]))
      }
    }
  })

  it('gives the same lines however the bytes are cut', () => {
    const line = fc.oneof(
      { weight: 8, arbitrary: fc.string({ unit: 'grapheme', maxLength: 40 }).map(text => text.replace(/[\r\n]/g, '')) },
      { weight: 1, arbitrary: fc.constantFrom('é'.repeat(40_000), 'x'.repeat(MAX_MESSAGE_BYTES), 'y'.repeat(70_000)) },
    )
    const sizes = fc.array(fc.integer({ min: 1, max: 9_000 }), { minLength: 1, maxLength: 5 })
    fc.assert(
      fc.property(fc.array(line, { maxLength: 12 }), fc.constantFrom('\n', '\r\n'), sizes, (lines, end, pieces) => {
        const bytes = Buffer.from(lines.join(end))
        expect(split(cut(bytes, pieces))).toEqual(split([bytes]))
      }),
      { seed: 20260509, numRuns: 60 },
    )
  })
})
