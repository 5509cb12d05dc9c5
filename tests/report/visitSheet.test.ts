import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { createDropFolder } from '../../src/adapters/dropFolder.js'
import { csvDefaults } from '../../src/adapters/inputSource.js'
import { ACTIONS, type Action } from '../../src/model/vocabulary.js'
import { procedureFor } from '../../src/recommend/procedure.js'
import { escapeHtml } from '../../src/report/markup.js'
import { type VisitSheet, visitSheetOf } from '../../src/report/visit/visitSheet.js'
import { renderVisitSheetPage } from '../../src/report/visit/visitSheetPage.js'
import { renderVisitSheetText } from '../../src/report/visit/visitSheetText.js'
import { plantOf, REGISTER } from '../model/plantFixture.js'
import { openExplanation, recommendationData, SUMMARY } from './explanationFixture.js'

const PLANT = plantOf({
  ...REGISTER,
  standards: [
    {
      id: 'D-1001',
      type: 'secondary_standard',
      analyzer: 'CFE-A',
      assignedNtu: 34.2,
      expires: '2027-01-31',
      lot: 'L-7',
    },
    { id: 'Z-3', type: 'zero_water', assignedNtu: 0.02, lot: 'W-11, second flask', expires: '2026-05-01' },
    { id: 'F-9', type: 'primary_standard', assignedNtu: 20, lot: 'F-2' },
  ],
})
const folder = mkdtempSync(join(tmpdir(), 'sheet-'))
afterAll(() => rmSync(folder, { recursive: true }))

function sheetFor(action: Action): VisitSheet {
  const desk = action === 'take_grab' || action === 'check_laboratory'
  const analyzer = desk ? undefined : PLANT.analyzers.get('CFE-A')
  const recommendation = recommendationData({
    action,
    target: desk ? { point: 'CFE' } : { analyzer: 'CFE-A' },
    point: 'CFE',
    ...(desk ? {} : { analyzer: 'CFE-A' }),
    procedure: procedureFor(action, analyzer, PLANT, 0.1),
  })
  if (desk) Reflect.deleteProperty(recommendation, 'analyzer')
  return visitSheetOf(openExplanation({ analyzer: 'CFE-A', recommendation }), 'NTU')!
}

/** Writes into the blanks of the file what somebody would write, and hands it in. */
async function handIn(sheet: VisitSheet, fill: Readonly<Record<string, string>>): Promise<Record<string, unknown>[]> {
  const { header, lines } = sheet.handBack!
  const columns = header.split(',')
  const filled = lines.map((line, i) => {
    // The cells written beforehand hold one quoted comma at most.
    const cells = line.match(/("([^"]|"")*"|[^,]*)(,|$)/g)!.map(cell => cell.replace(/,$/, ''))
    return columns
      .map((column, k) =>
        cells[k] !== ''
          ? cells[k]
          : column === 'time' || column === 'sampled'
            ? `2026-05-09 10:${String(10 + i)}`
            : (fill[column] ?? ''),
      )
      .join(',')
  })
  writeFileSync(join(folder, 'visit.csv'), [header, ...filled].join('\n'))
  const taken: Record<string, unknown>[] = []
  const drop = createDropFolder({
    folder,
    plant: () => PLANT,
    csv: map => csvDefaults(PLANT, map),
    hand: async inputs => void taken.push(...inputs.map(input => input.message as Record<string, unknown>)),
  })
  await drop.scan()
  expect(await drop.scan()).toEqual([{ file: 'visit.csv', taken: lines.length, refused: [] }])
  return taken
}

describe('a visit sheet', () => {
  it.each(ACTIONS)('for %s says why, what to mind, what to bring, what to do and what to write down', action => {
    const sheet = sheetFor(action)
    const text = renderVisitSheetText(sheet)
    const order = [SUMMARY.slice(0, 40), 'CAUTIONS', 'BRING', 'STEPS, IN THIS ORDER', 'WRITE DOWN', 'HAND BACK']
    const places = order.map(words => text.indexOf(words))
    expect(places.every(place => place >= 0)).toBe(true)
    expect(places).toEqual([...places].sort((a, b) => a - b))
    expect(sheet.cautions.length).toBeGreaterThanOrEqual(7)
    expect(sheet.blanks.length).toBeGreaterThanOrEqual(3)
    expect(text).not.toMatch(/undefined|NaN|null|\[object/)
    const page = renderVisitSheetPage(sheet)
    for (const part of [...sheet.cautions, ...sheet.steps]) expect(page).toContain(part.slice(0, 30))
    for (const line of sheet.handBack?.lines ?? []) expect(page).toContain(`\n${escapeHtml(line)}\n`)
    expect(page).toMatch(/@page \{ size: A4/)
    expect(page).not.toMatch(/<script|https?:/)
  })

  it('asks for every reading of a visit with a tick box beside each step', () => {
    const text = renderVisitSheetText(sheetFor('zero_and_span'))
    for (const blank of [
      'as found, untouched, NTU',
      'as found clean',
      'second meter beside, before',
      'second meter beside, after',
    ])
      expect(text).toMatch(new RegExp(`^${blank}.*____`, 'm'))
    for (const blank of ['as left on zero', 'as left on the standard', 'time maintenance on', 'time maintenance off'])
      expect(text).toMatch(new RegExp(`^${blank}.*____`, 'm'))
    expect(text.match(/^\[ \] +\d+\. /gm)).toHaveLength(sheetFor('zero_and_span').steps.length)
  })

  it('names serial, lot and expiry of what to bring, and what is past its date', () => {
    expect(sheetFor('calibrate_primary').bring.slice(0, 3)).toEqual([
      'zero water Z-3, 0.020 NTU, lot W-11, second flask, expires 2026-05-01: past, bring a fresh one',
      'primary standard F-9, 20.0 NTU, lot F-2, expiry: read its label',
      'secondary standard D-1001, 34.2 NTU, lot L-7, expires 2027-01-31',
    ])
  })

  it('gives a file that the drop folder takes when it is filled in, as the records of the work', async () => {
    const sheet = sheetFor('zero_and_span')
    const taken = await handIn(sheet, {
      asFound: '0.09',
      asFoundClean: '0.07',
      asLeft: '0.02',
      accepted: 'yes',
      by: 'crew 2',
    })
    const visit = '5b0c3a52-7d1e-5c55-9a57-0f2f5c1f6a10'
    expect(taken.map(one => [one.kind, one.action, one.visit])).toEqual(
      ['maintenance_on', 'cleaned', 'zero', 'span', 'maintenance_off'].map(action => ['work', action, visit]),
    )
    expect(taken[2]).toMatchObject({
      analyzer: 'CFE-A',
      time: '2026-05-09T09:12:00.000Z',
      asFound: 0.09,
      asFoundClean: 0.07,
      asLeft: 0.02,
      accepted: true,
      by: 'crew 2',
      reference: { type: 'zero_water', id: 'Z-3', lot: 'W-11, second flask', expires: '2026-05-01', assigned: 0.02 },
    })
    expect(taken[3]).toMatchObject({ reference: { type: 'secondary_standard', id: 'D-1001', assigned: 34.2 } })
  })

  it.each(ACTIONS.filter(action => action !== 'check_laboratory'))(
    'for %s gives a file that is taken',
    async action => {
      const sheet = sheetFor(action)
      const fill = {
        value: '0.05',
        'reference.assigned': '34.6',
        'reference.type': 'secondary_standard',
        accepted: 'yes',
      }
      const taken = await handIn(sheet, fill)
      expect(taken).toHaveLength(sheet.handBack!.lines.length)
      expect(new Set(taken.map(one => one.kind))).toEqual(new Set([action === 'take_grab' ? 'grab' : 'work']))
    },
  )

  it('writes values of references in the unit of the analyzer', () => {
    const recommendation = recommendationData({
      action: 'span',
      procedure: procedureFor('span', PLANT.analyzers.get('CFE-A'), PLANT, 0.1),
    })
    const sheet = visitSheetOf(openExplanation({ recommendation }), 'mNTU')
    expect(sheet?.handBack?.lines.join('\n')).toMatch(/D-1001,L-7,2027-01-31,34200,/)
    expect(sheet?.blanks).toContain('as left on the standard, mNTU')
  })

  it('is none where nothing is asked, or where the work awaits its proof', () => {
    const awaiting = recommendationData({ phase: 'awaiting_proof' })
    expect(visitSheetOf(openExplanation({ recommendation: awaiting }), 'NTU')).toBeUndefined()
    const closed = recommendationData({ phase: 'closed' })
    expect(visitSheetOf(openExplanation({ recommendation: closed }), 'NTU')).toBeUndefined()
  })
})
