import { describe, expect, it } from 'vitest'
import { concludeSignal } from '../../src/core/concludeSignal.js'
import { pointContext } from '../../src/core/context.js'
import { newPointFold } from '../../src/core/pointState.js'
import { NOTHING_SEEN } from '../../src/core/sights/sights.js'
import { DAY_MS } from '../../src/model/time.js'
import type { FindingKind } from '../../src/model/vocabulary.js'
import { plantOf, START_MS } from '../model/plantFixture.js'

const PLANT = plantOf()
const CONTEXT = pointContext(PLANT, PLANT.points.get('CFE')!, [], NOTHING_SEEN)
type Findings = Partial<Record<FindingKind, number>>

/** The request about the first unit after each day, with what was found on it. */
function after(...days: readonly Findings[]) {
  const fold = newPointFold(CONTEXT.point)
  const [unit] = fold.units
  days.forEach((findings, day) => {
    unit!.findings = { ...findings }
    concludeSignal(CONTEXT, fold, 0, START_MS + day * DAY_MS)
  })
  return unit!
}

describe('a request about a signal or a sample', () => {
  const stuck = { stuck: START_MS }
  const noFlow = { no_flow: START_MS + DAY_MS }
  const silent = { silent: START_MS + DAY_MS }

  it('is over with what it was about', () => {
    expect(after(stuck, stuck).case?.action).toBe('check_signal')
    expect(after(stuck, stuck, {})).toMatchObject({ case: null, ended: { reason: 'the readings are usable again' } })
  })

  it('is never called usable again while something else is found, and that is asked for next', () => {
    const ended = after(stuck, { ...stuck, ...noFlow }, noFlow)
    expect(ended.case).toBeNull()
    expect(ended.ended?.reason).toBe('"the signal repeats one value" is over; what is found now is "no sample flow"')
    expect(after(stuck, { ...stuck, ...noFlow }, noFlow, noFlow).case?.action).toBe('check_sample_line')
  })

  it('goes on for what is found now where that asks for the same', () => {
    const open = after(stuck, { ...stuck, ...silent }, silent).case
    expect(open).toMatchObject({ action: 'check_signal', finding: 'silent', openedMs: START_MS + DAY_MS })
    expect(open?.because).toContain('no current readings come')
  })
})
