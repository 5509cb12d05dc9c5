import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { readCsv } from '../../src/adapters/csv.js'
import { checkCsvMap, type CsvMap } from '../../src/adapters/csvMap.js'
import { decodeMessage } from '../../src/model/decode.js'
import type { Rejected } from '../../src/model/recordedInput.js'

const folder = mkdtempSync(join(tmpdir(), 'csv-'))
afterAll(() => rmSync(folder, { recursive: true }))

const isRejected = (message: unknown): message is Rejected => (message as { kind: string }).kind === 'rejected'

interface Outcome {
  readonly messages: unknown[]
  readonly rejects: { at: number; field: string; value: string; rule: string }[]
  readonly missing: string[]
  readonly ignored: string[]
  readonly problem: string | undefined
}

async function read(text: string, map: CsvMap = {}, analyzers?: readonly string[]): Promise<Outcome> {
  const file = join(folder, 'in.csv')
  writeFileSync(file, text)
  const outcome = { messages: [] as unknown[], rejects: [] as Outcome['rejects'], missing: [] as string[] }
  let ignored: string[] = []
  const problem = await readCsv(
    {
      file,
      feed: 'file',
      map,
      timeZone: 'Europe/London',
      unitOf: id => (id === 'FE3-A' ? 'mNTU' : undefined),
      unitOfPoint: () => undefined,
      ...(analyzers === undefined ? {} : { isAnalyzer: (id: string) => analyzers.includes(id) }),
    },
    {
      input: input => {
        const { message } = input
        if (!isRejected(message)) {
          expect(decodeMessage(message)).toMatchObject({ ok: true })
          outcome.messages.push(message)
          return
        }
        const { field, value, rule } = message.faults[0]!
        outcome.rejects.push({ at: Number(/:(\d+)$/.exec(input.position!)![1]), field, value, rule })
      },
      missing: analyzer => outcome.missing.push(analyzer),
      ignored: headers => (ignored = [...headers]),
    },
  )
  return { ...outcome, ignored, problem: problem?.problem }
}

const reading = (analyzer: string, value: number, more: object = {}): object => ({
  kind: 'reading',
  analyzer,
  time: '2026-01-09T10:15:00.000Z',
  value,
  unit: 'NTU',
  ...more,
})

describe('wide CSV files', () => {
  it('reads one column for each analyzer, units from header, map or register', async () => {
    const text = 'Time,FE3-A,FE3-B (FNU),RW-A\n2026-01-09 10:15,31,0.032,14.2\n'
    expect((await read(text)).messages).toEqual([
      reading('FE3-A', 31, { unit: 'mNTU' }),
      reading('FE3-B', 0.032, { unit: 'FNU' }),
      reading('RW-A', 14.2),
    ])
  })

  it.each([
    ['semicolon and decimal comma', 'time;RW-A;RW-B\n2026-01-09 10:15;14,2;13,9\n'],
    ['tab and decimal comma', 'time\tRW-A\tRW-B\n2026-01-09 10:15\t14,2\t13,9\n'],
    ['semicolon and decimal point', 'time;RW-A;RW-B\n2026-01-09 10:15;14.2;13.9\n'],
    ['comma and point, CRLF and byte-order mark', '\ufefftime,RW-A,RW-B\r\n2026-01-09 10:15,14.2,13.9\r\n'],
    ['quotes', '"time","RW-A","RW-B"\n"2026-01-09 10:15","14.2","13.9"\n'],
    ['a trailing delimiter', 'time,RW-A,RW-B\n2026-01-09 10:15,14.2,13.9,\n'],
    ['all digits of computed cells', 'time,RW-A,RW-B\n2026-01-09 10:15,14.200000000000000001,13.899999999999999911\n'],
    ['empty lines', '\ntime,RW-A,RW-B\n\n2026-01-09 10:15,14.2,13.9\n\n'],
  ])('reads %s', async (_, text) => {
    const outcome = await read(text)
    expect(outcome.messages).toEqual([reading('RW-A', 14.2), reading('RW-B', 13.9)])
    expect(outcome.rejects).toEqual([])
  })

  it('takes words for quality, counts empty cells, and refuses the rest cell by cell', async () => {
    const text = ['time,RW-A,RW-A quality,RW-B', '2026-01-09 10:15,1,Good,Bad', '2026-01-09 10:15,,,2']
      .concat(['2026-01-09 10:15,3,odd,4', '2026-01-09 10:15,5,,"6,1"', '2026-01-09 10:15,1e999,,full'])
      .join('\n')
    const outcome = await read(text)
    expect(outcome.messages).toEqual([
      reading('RW-A', 1, { quality: 'good' }),
      reading('RW-B', 0, { quality: 'bad' }),
      reading('RW-B', 2),
      reading('RW-B', 4),
      reading('RW-A', 5),
    ])
    expect(outcome.missing).toEqual(['RW-A'])
    expect(outcome.rejects.map(({ at, field, value }) => [at, field, value])).toEqual([
      [4, 'reading.quality', '"odd"'],
      [5, 'reading.value (RW-B)', '"6,1"'],
      [6, 'reading.value (RW-A)', '"1e999"'],
      [6, 'reading.value (RW-B)', '"full"'],
    ])
  })

  it('names columns that are no analyzers and leaves them out', async () => {
    const outcome = await read('time,RW-A,pump speed\n2026-01-09 10:15,1,50\n', {}, ['RW-A'])
    expect(outcome.messages).toEqual([reading('RW-A', 1)])
    expect(outcome.ignored).toEqual(['pump speed'])
  })

  it('follows the map', async () => {
    const map: CsvMap = {
      columns: { time: 'Zeitstempel' },
      analyzers: { 'AI 4711': 'RW-A' },
      qualities: { '---': 'bad' },
      unit: 'FNU',
    }
    const outcome = await read('Zeitstempel;AI 4711;AI 4712\n09.01.2026 10:15;1,5;2\n09.01.2026 10:15;---;2', map)
    expect(outcome.messages).toEqual([
      reading('RW-A', 1.5, { unit: 'FNU' }),
      reading('RW-A', 0, { unit: 'FNU', quality: 'bad' }),
    ])
  })

  it.each([
    ['too few cells', '2026-01-09 10:15,0.3', 'must have 3 cells as the header has, not 2'],
    ['a decimal comma among commas', '2026-01-09 10:15,0,3,0,4', 'must have 3 cells as the header has, not 5'],
    ['a quote left open', '2026-01-09 10:15,"0.3,0.4', 'a quoted cell must end on its line'],
    ['ten megabytes', 'x'.repeat(10_000_000), 'must be at most 65536 bytes'],
    [
      'a time that does not exist',
      '2026-03-29 01:30,1,2',
      'does not exist in Europe/London: clocks were put forward past it',
    ],
  ])('refuses a row with %s and reads the rows around it', async (_, row, rule) => {
    const outcome = await read(`time,RW-A,RW-B\n2026-01-09 10:15,1,2\n${row}\n2026-01-09 10:15,1,2\n`)
    expect(outcome.messages).toHaveLength(4)
    expect(outcome.rejects).toMatchObject([{ at: 3, rule }])
  })

  it.each([
    ['', 'has no header line'],
    ['a,b\n1,2\n', 'time: nothing: needs a column'],
    ['time\n2026-01-09 10:15\n', 'must name at least one analyzer'],
    ['time,A,A\n', 'must not name a column twice'],
  ])('says what is wrong with the header %j', async (text, problem) => {
    expect((await read(text)).problem).toContain(problem)
  })

  it('refuses a file that runs newest first', async () => {
    const rows = Array.from({ length: 60 }, (_, i) => `2026-01-09 10:${String(59 - i).padStart(2, '0')},1`)
    expect((await read(`time,RW-A\n${rows.join('\n')}\n`)).problem).toBe('runs newest first; sort it oldest first')
  })
})

describe('long CSV files', () => {
  it('reads readings', async () => {
    const text = 'Timestamp;Tag;Value;Unit;Quality\n2026-01-09 10:15;RW-A;14,2;FNU;192\n2026-01-09 10:15;RW-A;;FNU;\n'
    const outcome = await read(text, { qualities: { '192': 'good' } })
    expect(outcome.messages).toEqual([reading('RW-A', 14.2, { unit: 'FNU', quality: 'good' })])
    expect(outcome.missing).toEqual(['RW-A'])
  })

  it('reads grab samples, a bound with a decimal comma too', async () => {
    const text = [
      'point;sampled;value;unit;sampleId;laboratoryInstrument;remark',
      'CFE;2026-01-09 10:15;<0,02;NTU;L-1;LAB-1;clear',
      'CFE;2026-01-09 10:15;0,031;;L-2;;',
      'CFE;2026-10-25 01:30;0,031;NTU;L-3;;',
      'CFE;2026-10-25T01:30:00Z;0,031;NTU;L-4;;',
      'CFE;2026-01-09 10:15;clear;NTU;L-5;;',
      'CFE;2026-03-29 01:30;0,031;NTU;L-6;;',
    ].join('\n')
    const outcome = await read(text)
    const grab = { kind: 'grab', point: 'CFE', sampled: '2026-01-09T10:15:00.000Z', unit: 'NTU' }
    expect(outcome.messages).toEqual([
      { ...grab, value: '<0.02', sampleId: 'L-1', laboratoryInstrument: 'LAB-1' },
      { ...grab, value: 0.031, sampleId: 'L-2' },
      // The doubled hour: both instants go on to where readings can tell whether it matters.
      {
        ...grab,
        value: 0.031,
        sampleId: 'L-3',
        sampled: '2026-10-25T00:30:00.000Z',
        sampledAlso: '2026-10-25T01:30:00.000Z',
      },
      { ...grab, value: 0.031, sampleId: 'L-4', sampled: '2026-10-25T01:30:00.000Z' },
    ])
    expect(outcome.rejects).toEqual([
      { at: 6, field: 'grab.value', value: '"clear"', rule: 'must be a number with a decimal point' },
      {
        at: 7,
        field: 'grab.sampled',
        value: '"2026-03-29 01:30"',
        rule: 'does not exist in Europe/London: clocks were put forward past it',
      },
    ])
    expect(outcome.ignored).toEqual(['remark'])
  })

  it('reads work with its reference', async () => {
    const text = [
      'analyzer,time,action,reference type,reference id,reference assigned,asFound,asLeft,accepted,by,note',
      'RW-A,2026-01-09 10:15,span,secondary_standard,D-1001,34.2,36.1,34.3,yes,NN,"wiped, dried"',
      'RW-A,2026-01-09 10:15,cleaned,,,,,,perhaps,,',
    ].join('\n')
    const outcome = await read(text)
    expect(outcome.messages).toEqual([
      {
        kind: 'work',
        analyzer: 'RW-A',
        time: '2026-01-09T10:15:00.000Z',
        action: 'span',
        reference: { type: 'secondary_standard', id: 'D-1001', assigned: 34.2 },
        asFound: 36.1,
        asLeft: 34.3,
        accepted: true,
        by: 'NN',
        note: 'wiped, dried',
      },
    ])
    expect(outcome.rejects).toMatchObject([{ at: 3, field: 'work.accepted', value: '"perhaps"' }])
  })

  it('reads process states', async () => {
    const outcome = await read('point,time,state,flowM3h\nFE1,2026-01-09 10:15,backwash,0\n')
    expect(outcome.messages).toEqual([
      { kind: 'process', point: 'FE1', time: '2026-01-09T10:15:00.000Z', state: 'backwash', flowM3h: 0 },
    ])
  })

  it('says which column is missing', async () => {
    expect((await read('point,value\n', { kind: 'grab' })).problem).toContain('grab.sampled')
    expect((await read('time,RW-A\n', { columns: { value: 'Wert' } })).problem).toContain(
      'must be a column of the file',
    )
  })
})

describe('map files', () => {
  it('shows every mistake at once', () => {
    const checked = checkCsvMap({ kind: 'grap', colums: {}, decimal: ';', columns: { value: 3 } })
    expect(!checked.ok && checked.faults.map(({ field }) => field).sort()).toEqual([
      'columns.value',
      'colums',
      'decimal',
      'kind',
    ])
  })
})
