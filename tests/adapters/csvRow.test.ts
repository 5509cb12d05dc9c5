import { parse } from 'csv-parse/sync'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { parseCsvRow } from '../../src/adapters/csvRow.js'

describe('cells of a CSV line', () => {
  // Examples of RFC 4180 §2, rules 4 to 7, but for the line break inside quotes.
  it.each([
    ['aaa,bbb,ccc', ',', ['aaa', 'bbb', 'ccc']],
    ['"aaa","bbb","ccc"', ',', ['aaa', 'bbb', 'ccc']],
    ['"aaa","b""bb","ccc"', ',', ['aaa', 'b"bb', 'ccc']],
    ['a;"0,31";', ';', ['a', '0,31', '']],
    [' a\t b ', '\t', ['a', 'b']],
    ['', ',', ['']],
    ['"a" ,b', ',', ['a', 'b']],
  ])('reads %j', (line, delimiter, cells) => {
    expect(parseCsvRow(line, delimiter)).toEqual({ ok: true, cells })
  })

  it.each([
    ['a,"b', 'a quoted cell must end on its line'],
    ['a,"b"c', 'a closing quote must be followed by the delimiter'],
    ['a,b"c', 'a cell with a quote in it must be quoted as a whole'],
  ])('refuses %j: %s', (line, rule) => {
    expect(parseCsvRow(line, ',')).toEqual({ ok: false, rule })
  })

  it('reads what csv-parse reads', () => {
    const cell = fc.string({ maxLength: 8, unit: fc.constantFrom('a', '"', ',', ';', ' ', 'é', '1') })
    fc.assert(
      fc.property(fc.array(cell, { minLength: 2, maxLength: 6 }), fc.constantFrom(',', ';'), (cells, delimiter) => {
        const line = cells.map(text => `"${text.replaceAll('"', '""')}"`).join(delimiter)
        const [reference] = parse(line, { delimiter })
        expect(parseCsvRow(line, delimiter)).toEqual({ ok: true, cells: reference })
      }),
      { seed: 4180, numRuns: 300 },
    )
  })
})
