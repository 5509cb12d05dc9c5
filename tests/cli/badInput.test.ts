import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { simulatePlant } from '../../src/simulate/simulatePlant.js'
import { run, scratch } from './support.js'

const { path, put } = scratch()
const simulation = simulatePlant({ seed: 11, days: 6 })
const clean = [...simulation.messages]
const register = put('register.yaml', simulation.registerYaml)
/** In the middle of the record, so that much was taken before and much comes after. */
const time = '2026-04-03T12:00:00Z'
const good = { kind: 'reading', analyzer: 'FE3-B', time, value: 0.08, unit: 'NTU' }
const lineOf = (more: object): string => JSON.stringify({ ...good, ...more })
const seen = clean.find(line => line.includes('"reading"') && line.includes('FE3-A') && line.includes('2026-04-03T0'))!

/** What must not move anything else, the code it is refused with, and the field and value the refusal names. */
const REFUSED: readonly (readonly [string, string, string, string, string])[] = [
  ['malformed JSON', '{"kind":"reading","analyzer":', 'malformed_json', '', '"{'],
  ['NaN', '{"kind":"reading","analyzer":"FE3-B","value":NaN}', 'malformed_json', '', 'NaN'],
  ['a line of ten megabytes', `{"kind":"${'x'.repeat(10_000_000)}"}`, 'too_large', '', '10000011 bytes'],
  ['control characters', '\u0000\u001b[2J\u0007', 'malformed_json', '', '\\u0000\\u001b'],
  ['a list', '[1,2]', 'not_an_object', '', '[1,2]'],
  ['null', 'null', 'not_an_object', '', 'null'],
  ['a wrong kind', lineOf({ kind: 'redaing' }), 'unknown_kind', 'kind', '"redaing"'],
  ['no kind', '{"value":1}', 'unknown_kind', 'kind', 'nothing'],
  ['an unknown analyzer', lineOf({ analyzer: 'FE9-Z' }), 'unknown_analyzer', 'reading.analyzer', '"FE9-Z"'],
  ['an unknown point', '{"kind":"grab","point":"FE9","sampled":"2026-04-03T12:00:00Z","value":1,"unit":"NTU"}'].concat([
    'unknown_point',
    'grab.point',
    '"FE9"',
  ]) as unknown as readonly [string, string, string, string, string],
  ['an analyzer named __proto__', lineOf({ analyzer: '__proto__' }), 'invalid_field', 'reading.analyzer', '__proto__'],
  ['an analyzer named constructor', lineOf({ analyzer: 'constructor' }), 'invalid_field', 'reading.analyzer', 'constr'],
  ['line breaks in a name', lineOf({ analyzer: 'FE3\nB' }), 'invalid_field', 'reading.analyzer', '"FE3\\nB"'],
  ['text for a number', lineOf({ value: '0.08' }), 'invalid_field', 'reading.value', '"0.08"'],
  ['1e999', lineOf({}).replace('0.08', '1e999'), 'invalid_field', 'reading.value', 'Infinity'],
  ['an unknown unit', lineOf({ unit: 'ntu' }), 'invalid_field', 'reading.unit', '"ntu"'],
  ['no time', lineOf({ time: undefined }), 'missing_field', 'reading.time', 'nothing'],
  ['30 February', lineOf({ time: '2026-02-30T00:00:00Z' }), 'invalid_field', 'reading.time', '2026-02-30'],
  ['a conflicting grab', '', 'conflict', '', ''],
]

/** What is taken or left out with a reason, and must not change what follows either. */
const LEFT_OUT: readonly string[] = [
  lineOf({ value: -50, time: '2026-04-03T12:00:07Z' }),
  lineOf({ time: '2099-01-01T00:00:00Z' }),
  lineOf({ time: '1970-01-01T00:00:00Z' }),
  lineOf({ time: '2026-04-01T02:00:30Z', value: 3 }),
  seen,
  `\ufeff${seen}`,
  `${seen}\r`,
  '',
  '   ',
]

function mixed(): string[] {
  const grab = clean.find(line => line.includes('"grab"') && line.includes('sampleId'))!
  const conflict = JSON.stringify({ ...(JSON.parse(grab) as object), value: 9.5 })
  const bad = [...REFUSED.map(([name, line]) => (name === 'a conflicting grab' ? conflict : line)), ...LEFT_OUT]
  const lines = [...clean]
  const from = clean.findIndex(line => line.includes('2026-04-03T12'))
  // Bottom up, so that no place moves before it is used.
  for (let i = bad.length - 1; i >= 0; i--) lines.splice(from + i * 37, 0, bad[i]!)
  return lines
}

function eventsOf(file: string): string[] {
  return readFileSync(path(file), 'utf8').trimEnd().split('\n')
}

/** A shift summary counts what was refused and left out; all else in it must stay. */
function withoutCounts(line: string): unknown {
  const event = JSON.parse(line) as { type: string; data: Record<string, unknown> }
  if (event.type !== 'turbidrift.shift.summary') return line
  const { excluded: _excluded, rejected: _rejected, summary: _summary, ...data } = event.data
  return { ...event, data }
}

describe('a record with everything that can be wrong in it', () => {
  it(
    'gives the events of the record without it, byte for byte, and says what was wrong',
    { timeout: 60_000 },
    async () => {
      const [a, b] = [put('clean.ndjson', clean.join('\n')), put('mixed.ndjson', `\ufeff${mixed().join('\n')}`)]
      const first = await run(['replay', '--register', register, a, '--out', path('clean-events.ndjson')])
      const second = await run([
        'replay',
        '--register',
        register,
        b,
        '--out',
        path('mixed-events.ndjson'),
        '--rejects',
        path('rejects.ndjson'),
      ])
      expect([first.code, second.code]).toEqual([0, 0])
      expect(first.told).toContain(' 0 refused')
      const mixedEvents = eventsOf('mixed-events.ndjson').filter(
        line => !line.includes('"turbidrift.message.rejected"'),
      )
      expect(mixedEvents.map(withoutCounts)).toEqual(eventsOf('clean-events.ndjson').map(withoutCounts))
      expect(mixedEvents.length).toBeGreaterThan(100)

      const rejects = eventsOf('rejects.ndjson').map(line => JSON.parse(line) as Reject)
      expect(rejects).toHaveLength(REFUSED.length)
      for (const [index, [name, , code, field, value]] of REFUSED.entries()) {
        const { position, faults, excerpt } = rejects[index]!
        expect(position, name).toMatch(/mixed\.ndjson:\d+$/)
        expect(excerpt.length, name).toBeLessThanOrEqual(1_024)
        expect(faults[0]!.code, name).toBe(code)
        if (name === 'a conflicting grab') continue
        expect(faults[0]!.field, name).toBe(field)
        expect(faults[0]!.value, name).toContain(value)
        expect(faults[0]!.rule.length, name).toBeGreaterThan(10)
      }
      expect(second.told).toContain(` ${REFUSED.length} refused`)
      expect(({} as Record<string, unknown>).polluted).toBeUndefined()
    },
  )
})

interface Reject {
  readonly position: string
  readonly faults: readonly {
    readonly code: string
    readonly field: string
    readonly value: string
    readonly rule: string
  }[]
  readonly excerpt: string
}
