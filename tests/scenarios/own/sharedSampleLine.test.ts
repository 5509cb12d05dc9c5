import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { type Moment, runScenario } from '../support/scenario.js'

/** From the thirteenth day the line that CFE-A and CFE-B share brings water that is 0.05 NTU higher. */
const onLine = (truthNtu: number, { day }: Moment): number => truthNtu + (day >= 12 ? 0.05 : 0)

const said = runScenario({
  id: 'sharedSampleLine',
  title: 'Two units on one sample line move together',
  from: '2026-05-01',
  days: 20,
  points: { CFE: { water: 0.06 } },
  analyzers: { 'CFE-A': { reads: onLine }, 'CFE-B': { reads: onLine } },
  register: register => {
    for (const [id, line] of [
      ['CFE-A', 'N1'],
      ['CFE-B', 'N1'],
      ['CFE-C', 'N2'],
    ] as const)
      register.points.CFE!.analyzers[id]!.sampleLine = line
  },
})

describe('Two units on one sample line move together', () => {
  const [request] = said.opened('point:CFE')

  test('the sample line comes first, both units and the line named', () => {
    expect(request?.action).toBe('check_sample_line')
    expect(request?.cause.ranked[0]?.cause).toBe('sample_line')
    expect(request?.summary).toMatch(/CFE-A and CFE-B hang on sample line N1 and moved together by 0\.0[456]\d* NTU/)
    expect(request!.openedAt < '2026-05-16').toBe(true)
  })
  test('no analyzer is asked to be touched', () => {
    expect(said.opened().map(one => one.target)).toEqual([{ point: 'CFE' }])
  })
  holdsEverywhere(said)
})
