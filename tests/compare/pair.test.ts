import { describe, expect, it } from 'vitest'
import { type Pair, pairResidualNtu, type PairUnit } from '../../src/compare/pair.js'

function residual(ntu: number, grabNtu: number, qualifier: Pair['qualifier'] = null, offsetNtu = 0): number {
  const unit: PairUnit = { ntu, uNtu: 0.01, toleranceNtu: 0.05, rateNtuPerH: 0, high: 0, low: 0, limit: 0 }
  const pair: Pair = {
    atMs: 0,
    grabNtu,
    qualifier,
    sampleId: null,
    laboratoryInstrument: null,
    use: 'used',
    units: [unit],
  }
  return pairResidualNtu(pair, unit, offsetNtu)
}

describe('residual of a pair', () => {
  it.each([
    [0.09, 0.05, null, 0, 0.04],
    [0.03, 0.05, null, 0, -0.02],
    [0.09, 0.05, null, 0.01, 0.03],
    // Below what the laboratory can report: only a reading above the bound says something.
    [0.09, 0.02, '<', 0, 0.07],
    [0.015, 0.02, '<', 0, 0],
    [0.025, 0.02, '<', 0.01, 0],
    // Above it: only a reading below.
    [3_900, 4_000, '>', 0, -100],
    [4_100, 4_000, '>', 0, 0],
  ] as const)('analyzer %d, grab %d %s, offset %d: %d', (ntu, grabNtu, qualifier, offset, expected) => {
    expect(residual(ntu, grabNtu, qualifier, offset)).toBeCloseTo(expected, 12)
  })
})
