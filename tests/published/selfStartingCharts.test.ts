import { describe, expect, it } from 'vitest'
import { cusumPath } from '../../src/statistics/cusumPath.js'
import { advanceSelfStarting, newSelfStarting, selfStartingScore } from '../../src/statistics/selfStarting.js'
import { expectWithin, readReference } from './reference.js'

function selfStartingScores(x: readonly number[]): readonly (number | null)[] {
  let state = newSelfStarting()
  return x.map(value => {
    const score = selfStartingScore(state, value)
    state = advanceSelfStarting(state, value)
    return score
  })
}

// Standards item C10t: computed by the formula of Hawkins 1987 and Quesenberry 1991 for the data of Montgomery,
// Introduction to Statistical Quality Control, table 9.1 (8th edition); 4 decimals.
describe('self-starting scores of Montgomery table 9.1', () => {
  const x = [
    9.45, 7.99, 9.29, 11.66, 12.16, 10.18, 8.04, 11.46, 9.2, 10.34, 9.03, 11.47, 10.51, 9.4, 10.08, 9.37, 10.62, 10.31,
    8.52, 10.84, 10.9, 9.33, 12.29, 11.5, 10.6, 11.08, 10.38, 11.62, 11.31, 10.52,
  ]
  const fromTheThird = [
    0.3446, 1.6601, 1.2022, 0.0344, -1.0978, 0.8707, -0.463, 0.241, -0.5978, 1.0188, 0.3221, -0.4544, 0.0481, -0.4809,
    0.4919, 0.2327, -1.2029, 0.7085, 0.7315, -0.5829, 1.8399, 1.0902, 0.3438, 0.7198, 0.1334, 1.1466, 0.8515, 0.1761,
  ]
  const scores = selfStartingScores(x)

  it('are those of the formula', () => {
    expect(scores.slice(0, 2)).toEqual([null, null])
    expect(scores).toHaveLength(fromTheThird.length + 2)
    fromTheThird.forEach((u, i) => {
      expectWithin(scores[i + 2] ?? NaN, u, { absolute: 5.1e-5 }, `U ${i + 3}`)
    })
  })

  it('bring a CUSUM to 2.6251 at 29 and to no signal, where that of the known mean and sigma signals', () => {
    const learnt = cusumPath(
      scores.map(score => score ?? 0),
      { k: 0.5, h: 5 },
    )
    expect(learnt.signalIndex).toBeNull()
    expect(Math.max(...learnt.sums)).toBeCloseTo(2.6251, 4)
    expect(learnt.sums.indexOf(Math.max(...learnt.sums)) + 1).toBe(29)
    const known = x.map(value => value - 10)
    expect(cusumPath(known, { k: 0.5, h: 5 }).signalIndex).toBe(28)
  })
})

// reference/cusum-paths.json: scipy 1.17.1, the entries of the self-starting chart.
interface SelfStartingInput {
  readonly chart?: string
  readonly x: readonly number[]
  readonly k: number
  readonly h: number
}
interface SelfStartingPath {
  readonly u: readonly (number | null)[]
  readonly upper: readonly number[]
  readonly lower: readonly number[]
  readonly signalIndex: number | null
  readonly signalSide: 'upper' | 'lower' | null
}

describe('self-starting scores and their CUSUM against scipy', () => {
  const entries = readReference<SelfStartingInput, SelfStartingPath>('cusum-paths').filter(
    entry => entry.input.chart === 'selfStarting',
  )
  it('has five series', () => {
    expect(entries).toHaveLength(5)
  })

  it.each(entries.map(entry => [entry.id, entry] as const))('%s', (_id, { input, expected, tolerance }) => {
    const scores = selfStartingScores(input.x)
    expect(scores.map(score => score === null)).toEqual(expected.u.map(u => u === null))
    scores.forEach((score, i) => {
      expectWithin(score ?? 0, expected.u[i] ?? 0, tolerance, `U ${i}`)
    })
    const z = scores.map(score => score ?? 0)
    const upper = cusumPath(z, input)
    const lower = cusumPath(
      z.map(value => -value),
      input,
    )
    upper.sums.forEach((sum, i) => {
      expectWithin(sum, expected.upper[i] ?? NaN, tolerance, `upper ${i}`)
    })
    lower.sums.forEach((sum, i) => {
      expectWithin(sum, expected.lower[i] ?? NaN, tolerance, `lower ${i}`)
    })
    const first = { upper: upper.signalIndex, lower: lower.signalIndex }
    if (expected.signalSide === null) expect(first).toEqual({ upper: null, lower: null })
    else expect(first[expected.signalSide]).toBe(expected.signalIndex)
  })
})
