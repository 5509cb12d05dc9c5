import { describe, expect, it } from 'vitest'
import type { LineView } from '../../src/core/explanation.js'
import { lineCells, sayMissing } from '../../src/report/lineCells.js'

const view = (told: Partial<LineView>): LineView => ({
  line: 'clean_water_floor',
  against: 'its own cleanest water',
  delta0: 0.25,
  delta1: 0.6,
  rows: [],
  ...told,
})
const evidence = {
  line: 'clean_water_floor' as const,
  against: 'its own cleanest water',
  n: 20,
  excluded: {},
  points: [],
}

describe('a line without a chart, in a table', () => {
  it('has in place of a sum what it says, and owes the budget nothing', () => {
    const says = '0.05 NTU higher than its habit since about 9 May 2026'
    expect(lineCells(view({ evidence: { ...evidence, says, biasNtu: 0.05 } }), [])).toMatchObject({
      values: '20',
      differenceNtu: '+0.050',
      sum: says,
      falseSignal: 'it has no chart',
      leftOut: 'none',
    })
  })

  it('counts what was left out of it by reason', () => {
    const cells = lineCells(
      view({
        line: 'verification',
        evidence: { ...evidence, line: 'verification', excluded: { standard_unassigned: 2 } },
      }),
      [],
    )
    expect(cells?.leftOut).toMatch(/^2 × a secondary standard of which nobody said when/)
  })

  it('says why it has nothing to say', () => {
    const silent = view({ missing: 'its habit is being learnt: 4 of 10 days are in' })
    expect(lineCells(silent, [])).toBeUndefined()
    expect(sayMissing(silent)).toMatch(/4 of 10 days/)
  })
})
