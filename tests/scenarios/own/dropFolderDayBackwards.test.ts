import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { describe, expect, test } from 'vitest'
import { createDropFolder } from '../../../src/adapters/dropFolder.js'
import { csvDefaults } from '../../../src/adapters/inputSource.js'
import { resolvePlant } from '../../../src/model/plant.js'
import { foldText } from '../../core/support/fold.js'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { registerOf } from '../support/messages.js'
import type { SentRecord } from '../support/plan.js'
import { runScenario, type ScenarioPlan } from '../support/scenario.js'

/**
 * FE4-A reads 0.085 NTU high from 7 May on and is zeroed on 18 May. All that was written down that day comes the next
 * morning, in files of the drop folder: the newest row first, the laboratory before the visits.
 */
const TRUTH_NTU = 0.06
const clocks = ['02:00', '08:00', '14:00', '20:00']
const DAY = '2026-05-18'
const NEXT_MORNING = '2026-05-19T07:10:00Z'

/** Times by the plant's own clock, an hour ahead of UTC in May. */
const files: Readonly<Record<string, readonly string[]>> = {
  'a-laboratory.csv': [
    'point;sampled;value;unit;sampleId',
    `FE4;${DAY} 21:00;0,061;NTU;FE4-18-4`,
    `FE4;${DAY} 15:00;0,058;NTU;FE4-18-3`,
    `FE4;${DAY} 09:00;0,062;NTU;FE4-18-2`,
    `FE4;${DAY} 03:00;0,059;NTU;FE4-18-1`,
  ],
  'b-visits.csv': [
    'analyzer;time;action;as found;as left;type;assigned;accepted',
    `FE4-A;${DAY} 11:40;maintenance_off;;;;;`,
    `FE4-A;${DAY} 11:20;zero;0,105;0,021;zero_water;0,02;yes`,
    `FE4-A;${DAY} 11:05;cleaned;0,145;0,145;;;yes`,
    `FE4-A;${DAY} 11:00;maintenance_on;;;;;`,
  ],
}

const plan = (records: readonly SentRecord[]): ScenarioPlan => ({
  id: 'dropFolderDayBackwards',
  title: 'A whole day of the drop folder out of order',
  from: '2026-05-01',
  days: 24,
  points: {
    FE4: {
      water: () => TRUTH_NTU,
      grabs: {
        at: clocks,
        value: (readNtu, { atMs }) => (new Date(atMs).toISOString().startsWith(DAY) ? undefined : readNtu),
      },
    },
  },
  analyzers: { 'FE4-A': { reads: (truthNtu, { day }) => truthNtu + (day > 6 && day < 17 + 10 / 24 ? 0.085 : 0) } },
  records,
})

async function dropped(): Promise<SentRecord[]> {
  const plant = resolvePlant(registerOf(plan([])))
  const folder = mkdtempSync(join(tmpdir(), 'backwards-'))
  const taken: SentRecord[] = []
  const drop = createDropFolder({
    folder,
    plant: () => plant,
    csv: map => csvDefaults(plant, map),
    hand: async inputs => void taken.push(...inputs.map(input => input.message as SentRecord)),
  })
  for (const [name, lines] of Object.entries(files)) writeFileSync(join(folder, name), lines.join('\n'))
  await drop.scan()
  const results = await drop.scan()
  rmSync(folder, { recursive: true })
  expect(results.map(one => [one.file, one.taken, one.refused])).toEqual([
    ['a-laboratory.csv', 4, []],
    ['b-visits.csv', 4, []],
  ])
  return taken
}

const records = await dropped()
const said = runScenario(
  // A second between them keeps the order of the folder.
  plan(
    records.map((one, k) => ({
      ...one,
      comes: new Date(Date.parse(NEXT_MORNING) + 1_000 * k).toISOString(),
    })),
  ),
)
const onTime = runScenario(plan(records))

describe('a whole day of the drop folder out of order', () => {
  test('ends as if each record had come at its time', () => {
    expect(foldText(said.state)).toEqual(foldText(onTime.state))
    expect(said.refused).toEqual([])
  })
  test('the open request becomes the proof of the zero, because the records came late', () => {
    const after = said.requests('FE4-A').filter(event => event.time >= NEXT_MORNING)
    expect(after[0]?.data.phase).toBe('awaiting_proof')
    expect(after[0]?.data.reason).toMatch(
      /record came late: cleaning of FE4-A of 18 May 2026, 10:05 UTC, zero of FE4-A of 18 May 2026, 10:20 UTC and 6 more, known since 19 May 2026, 07:17 UTC/,
    )
    expect(said.verdicts('FE4-A').map(event => event.type)).toEqual(['work.confirmed'])
    expect(said.verdicts('FE4-A')[0]?.data.work).toMatchObject({ at: '2026-05-18T10:20:00Z', action: 'zero' })
  })
  test('nothing of the day is counted twice or lost', () => {
    expect(
      said.state.points.get('FE4')?.pairs.filter(pair => pair.sampleId?.startsWith('FE4-18') === true),
    ).toHaveLength(4)
    expect(said.explain('FE4-A').work).toHaveLength(4)
  })
  holdsEverywhere(said)
})
