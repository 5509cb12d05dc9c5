import { describe, expect, it } from 'vitest'
import { lagSign, newLagState, takeLag } from '../../../src/diagnose/signs/lag.js'
import { HOUR_MS } from '../../../src/model/time.js'
import { BLOCK_MS } from '../../../src/qualify/openBlock.js'
import { normalSource } from '../../statistics/random.js'

const MINUTE_MS = 60_000
const swing = (atMs: number) => 20 + 8 * Math.sin((2 * Math.PI * atMs) / (8 * HOUR_MS))

function signsOf(reads: (atMs: number) => number, days = 6) {
  const normal = normalSource(3)
  const [own, other] = [newLagState(), newLagState()]
  for (let atMs = 0; atMs < days * 24 * HOUR_MS; atMs += BLOCK_MS) {
    const shown = reads(atMs) + 0.1 * normal()
    const beside = swing(atMs) + 0.1 * normal()
    takeLag(own, shown, beside)
    takeLag(other, beside, shown)
  }
  return [lagSign(own, 2), lagSign(other, 2)]
}

describe('a difference that goes with how fast the water changes', () => {
  it('is of the unit that is late, not of the other one', () => {
    const [late, prompt] = signsOf(atMs => swing(atMs - 20 * MINUTE_MS))
    expect(late?.minutes).toBeGreaterThan(14)
    expect(late?.minutes).toBeLessThan(26)
    expect(late?.share).toBeGreaterThan(0.8)
    expect(prompt).toBeUndefined()
  })

  it.each([
    ['no error', swing],
    ['a zero error', (atMs: number) => swing(atMs) - 2],
    ['a span error', (atMs: number) => 1.1 * swing(atMs)],
    ['a lag of two minutes', (atMs: number) => swing(atMs - 2 * MINUTE_MS)],
  ])('is not seen in %s', (_, reads) => {
    expect(signsOf(reads)).toEqual([undefined, undefined])
  })

  it('needs some days', () => {
    expect(signsOf(atMs => swing(atMs - 20 * MINUTE_MS), 1.5)[0]).toBeUndefined()
  })
})
