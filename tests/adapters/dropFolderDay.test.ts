import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { createDropFolder, type DropFolder } from '../../src/adapters/dropFolder.js'
import { csvDefaults } from '../../src/adapters/inputSource.js'
import { parseRegister } from '../../src/adapters/registerFile.js'
import { resolvePlant } from '../../src/model/plant.js'
import type { RecordedInput } from '../../src/model/recordedInput.js'

const read = parseRegister(
  `plant: hollin-weir
timeZone: Europe/London
points:
  CFE: { analyzers: { CFE-A: { unit: NTU }, CFE-B: { unit: NTU } } }
  RW: { analyzers: { RW-A: { unit: NTU } } }
`,
  'register.yaml',
)
const plant = resolvePlant(read.ok ? read.file : (undefined as never))
let folder: string
let handed: RecordedInput[]
let drop: DropFolder

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'drop-day-'))
  handed = []
  drop = createDropFolder({
    folder,
    plant: () => plant,
    csv: map => csvDefaults(plant, map),
    hand: async inputs => void handed.push(...inputs),
  })
})
afterEach(() => rmSync(folder, { recursive: true }))

const put = (name: string, ...lines: readonly string[]): void => writeFileSync(join(folder, name), lines.join('\n'))
const reasons = (name: string): string[] =>
  readFileSync(join(folder, 'refused', `${name}.reasons`), 'utf8')
    .trimEnd()
    .split('\n')
const messages = (kind?: string): Record<string, unknown>[] =>
  handed
    .map(input => input.message as Record<string, unknown>)
    .filter(message => kind === undefined || message.kind === kind)
const scan = async (): ReturnType<DropFolder['scan']> => {
  await drop.scan()
  return drop.scan()
}

describe('an export of a historian', () => {
  const map = [
    'decimal: ","',
    'columns: { time: Zeitpunkt }',
    'analyzers: { "11AI4711.PV": CFE-A, "11AI4712.PV": CFE-B }',
    'qualities: { "Sensor getrennt": bad, "Wert alt": uncertain }',
  ]
  const head = 'Zeitpunkt;11AI4711.PV;11AI4712.PV;11AI9999.PV'
  const readings = (analyzer: string) =>
    messages('reading')
      .filter(one => one.analyzer === analyzer)
      .map(({ time, value, quality }) => [String(time).slice(11, 16), value, quality ?? 'good'])

  beforeEach(() => {
    mkdirSync(join(folder, 'maps'))
    writeFileSync(join(folder, 'maps', 'historian.yaml'), map.join('\n'))
  })

  it('is read by its map: decimal comma, words as quality, the doubled hour by the order of its rows', async () => {
    put(
      'historian-2026-10-25.csv',
      head,
      '25.10.2026 00:45;0,041;0,052;7',
      '25.10.2026 01:15;0,042;Bad;7',
      '25.10.2026 01:45;No Data;0,053;7',
      '25.10.2026 01:15;I/O Timeout;Sensor getrennt;7',
      '25.10.2026 01:45;0,043;;7',
      '25.10.2026 02:15;0,044;0,054;7',
    )
    expect(await scan()).toEqual([{ file: 'historian-2026-10-25.csv', taken: 11, refused: [] }])
    // IANA time zone database, Europe/London: clocks go back at 01:00 UTC.
    expect(readings('CFE-A')).toEqual([
      ['23:45', 0.041, 'good'],
      ['00:15', 0.042, 'good'],
      ['00:45', 0, 'bad'],
      ['01:15', 0, 'bad'],
      ['01:45', 0.043, 'good'],
      ['02:15', 0.044, 'good'],
    ])
    expect(readings('CFE-B').map(([time, , quality]) => [time, quality])).toEqual([
      ['23:45', 'good'],
      ['00:15', 'bad'],
      ['00:45', 'good'],
      ['01:15', 'bad'],
      ['02:15', 'good'],
    ])
  })

  it('loses no row to a bad one, and says of each file, line, column, value and rule', async () => {
    put(
      'historian-2026-03-29.csv',
      head,
      '29.03.2026 00:45;0,041;0,052;7',
      '29.03.2026 01:15;0,042;0,052;7',
      '29.03.2026 02:15;0,043;soon;7',
      '29.03.2026 02:45;0,044',
      '29.03.2026 03:15;0.045;0,055;7',
    )
    expect(await scan()).toMatchObject([{ file: 'historian-2026-03-29.csv', taken: 4 }])
    expect(reasons('historian-2026-03-29.csv')).toEqual([
      '4 rows taken',
      'historian-2026-03-29.csv:3 reading.time: "29.03.2026 01:15" is refused: does not exist in Europe/London: clocks were put forward past it',
      'historian-2026-03-29.csv:4 reading.value (CFE-B): "soon" is refused: must be a number with a decimal comma, or a word for bad quality',
      expect.stringMatching(/^historian-2026-03-29\.csv:5 .*must have 4 cells as the header has, not 2$/),
      'historian-2026-03-29.csv:6 reading.value (CFE-A): "0.045" is refused: must be a number with a decimal comma, or a word for bad quality',
    ])
    expect(readings('CFE-A').map(([time]) => time)).toEqual(['00:45', '01:15'])
    expect(messages('rejected')).toHaveLength(4)
  })

  it('is refused whole where its map is wrong, and stays to be put in again', async () => {
    writeFileSync(join(folder, 'maps', 'historian.yaml'), 'decimals: ","\n')
    put('historian.csv', head, '25.10.2026 00:45;0,041;0,052;7')
    const [result] = await scan()
    expect(result).toMatchObject({
      taken: 0,
      refused: [expect.stringMatching(/^historian\.yaml decimals: .* is not a key/)],
    })
    expect(readdirSync(join(folder, 'refused')).sort()).toEqual(['historian.csv', 'historian.csv.reasons'])
    expect(handed).toEqual([])
  })
})

describe('records of a day in CSV files', () => {
  it('takes work, grab samples and standards', async () => {
    put(
      'visits.csv',
      'analyzer;time;action;as found;as found clean;as left;beside before;beside after;standard;type;lot;expires;assigned;accepted;by',
      'CFE-A;2026-05-09 10:15;span;36,9;35,9;34,3;;;D-1001;secondary_standard;L-7;2027-01-31;34,2;yes;crew 2',
      'CFE-B;2026-05-09 10:40;cleaned;0,09;0,06;;0,061;0,06;;;;;;yes;',
    )
    put('laboratory.csv', 'Point,Sampled,Result,Unit,Sample number', 'CFE,2026-05-09 10:00,<0.02,NTU,L-81')
    put(
      'standards.csv',
      'standard,analyzer,assigned on,assigned,lot,expires,standard uncertainty',
      'D-1001,CFE-A,2026-05-09 11:30,34.6,L-7,2027-01-31,0.4',
      'F-9,CFE-B,2026-05-09,20,F-2,,',
    )
    expect((await scan()).map(one => [one.file, one.taken, one.refused])).toEqual([
      ['laboratory.csv', 1, []],
      ['standards.csv', 2, []],
      ['visits.csv', 2, []],
    ])
    const secondary = { type: 'secondary_standard', id: 'D-1001', lot: 'L-7', expires: '2027-01-31' }
    expect(messages()).toEqual([
      {
        kind: 'grab',
        point: 'CFE',
        sampled: '2026-05-09T09:00:00.000Z',
        value: '<0.02',
        unit: 'NTU',
        sampleId: 'L-81',
      },
      {
        kind: 'work',
        action: 'standard_assigned',
        accepted: true,
        analyzer: 'CFE-A',
        time: '2026-05-09T10:30:00.000Z',
        reference: { ...secondary, assigned: 34.6, standardUncertainty: 0.4 },
      },
      {
        kind: 'work',
        action: 'standard_assigned',
        accepted: true,
        analyzer: 'CFE-B',
        time: '2026-05-08T23:00:00.000Z',
        reference: { type: 'secondary_standard', id: 'F-9', lot: 'F-2', assigned: 20 },
      },
      {
        kind: 'work',
        analyzer: 'CFE-A',
        time: '2026-05-09T09:15:00.000Z',
        action: 'span',
        asFound: 36.9,
        asFoundClean: 35.9,
        asLeft: 34.3,
        reference: { ...secondary, assigned: 34.2 },
        accepted: true,
        by: 'crew 2',
      },
      {
        kind: 'work',
        analyzer: 'CFE-B',
        time: '2026-05-09T09:40:00.000Z',
        action: 'cleaned',
        asFound: 0.09,
        asFoundClean: 0.06,
        besideBefore: 0.061,
        besideAfter: 0.06,
        accepted: true,
      },
    ])
  })

  it('names the column where its header is not the field, and takes the rows around', async () => {
    put(
      'visits.csv',
      'analyzer;date;action;as left;standard;assigned;accepted',
      'CFE-A;2026-05-09 10:15;span;about 34;D-1001;34,2;yes',
      'CFE-A;2026-10-25 01:30;span;34,2;D-1001;34,2;yes',
      'CFE-A;2026-05-09 11:15;wiped;34,2;;;yes',
      'CFE-Z;2026-05-09 11:15;span;34,2;;;yes',
      'CFE-B;2026-05-09 11:20;cleaned;;;;yes',
    )
    await scan()
    expect(reasons('visits.csv')).toEqual([
      '1 rows taken',
      'visits.csv:2 work.asLeft: "about 34" is refused: must be a number with a decimal point',
      expect.stringMatching(/^visits\.csv:3 work\.time \(column date\): "2026-10-25 01:30" is refused: comes twice/),
      expect.stringMatching(/^visits\.csv:4 work\.action: "wiped" is refused: /),
      'visits.csv:5 work.analyzer: "CFE-Z" is refused: must be an analyzer of the register',
    ])
  })
})
