import { describe, expect, it } from 'vitest'
import type { PlantEvent } from '../../src/model/events.js'
import { DAY_MS, HOUR_MS } from '../../src/model/time.js'
import { smallRegister } from './support/register.js'
import { messagesOf, run, type RunOptions } from './support/run.js'
import { at, makeStream } from './support/stream.js'

/** Two units of one point; one of them reads wrong from the second day. */

const register = smallRegister(['CFE'], {}, 900)
const BEGIN_MS = at(1)
const POINT = 'point:CFE'

interface Plan {
  readonly wrong: string
  readonly days: number
  /** @param days since it began */
  readonly errorNtu: (days: number, waterNtu: number) => number
  /** What the water holds more than the stream's own 0.2 NTU. */
  readonly waterNtu?: (atMs: number) => number
  /** Whether a grab sample is taken at an instant. */
  readonly isSampled: (atMs: number) => boolean
}

type Recommendation = Extract<PlantEvent, { type: `recommendation.${string}` }>

function recommendationsOf(
  { wrong, days, errorNtu, waterNtu = () => 0, isSampled }: Plan,
  between?: RunOptions['between'],
): Recommendation[] {
  const sent = makeStream({
    register,
    seed: 71,
    days,
    error: (analyzer, atMs) => {
      const more = waterNtu(atMs)
      const isOff = analyzer === wrong && atMs > BEGIN_MS
      return more + (isOff ? errorNtu((atMs - BEGIN_MS) / DAY_MS, 0.2 + more) : 0)
    },
    grabError: (_, atMs) => waterNtu(atMs),
  }).filter(({ message, atMs }) => message.kind !== 'grab' || isSampled(atMs))
  const { events } = run(messagesOf(sent), { register, ticks: 'event', ...(between === undefined ? {} : { between }) })
  return events.filter((event): event is Recommendation => event.type.startsWith('recommendation.'))
}

/** What was asked for first, of whom. */
const openings = (said: readonly Recommendation[]) =>
  said.filter(event => event.type === 'recommendation.opened').map(({ subject, data }) => [subject, data.action])

const always = () => true
const never = () => false
const beforeOnly = (atMs: number) => atMs < BEGIN_MS
const step = (ntu: number) => () => ntu

/** A film in water between 0.3 and 4.1 NTU, which nothing that the other unit may have looks like. */
const film: Omit<Plan, 'isSampled'> = {
  wrong: 'CFE-A',
  days: 9,
  errorNtu: (days, waterNtu) => 0.2 * days * (1 - waterNtu / 5),
  waterNtu: atMs => 2 + 1.9 * Math.sin((4 * (atMs - at(0))) / DAY_MS),
}

describe('of two units that differ', () => {
  it.each<[string, Plan]>([
    ['CFE-A high, no grab at all', { wrong: 'CFE-A', errorNtu: step(0.12), days: 4.5, isSampled: never }],
    ['CFE-B low, grabs only before', { wrong: 'CFE-B', errorNtu: step(-0.1), days: 4.5, isSampled: beforeOnly }],
    ['CFE-A 1 NTU high, no grab at all', { wrong: 'CFE-A', errorNtu: step(1), days: 5.5, isSampled: never }],
    ['CFE-B 1 NTU high, grabs only before', { wrong: 'CFE-B', errorNtu: step(1), days: 5.5, isSampled: beforeOnly }],
    ['a film on CFE-A, no grab at all', { ...film, isSampled: never }],
    ['a film on CFE-A, grabs only before', { ...film, isSampled: beforeOnly }],
  ])('none is named without a witness, a grab sample is asked for: %s', (_, plan) => {
    expect(openings(recommendationsOf(plan))).toEqual([[POINT, 'take_grab']])
  })

  it.each<[string, Plan]>([
    ['CFE-A high', { wrong: 'CFE-A', errorNtu: step(0.12), days: 4.5, isSampled: always }],
    ['CFE-B low', { wrong: 'CFE-B', errorNtu: step(-0.1), days: 4.5, isSampled: always }],
  ])('the wrong one is named where grabs go on: %s', (_, plan) => {
    expect(openings(recommendationsOf(plan)).map(([subject]) => subject)).toEqual([plan.wrong])
  })

  it.each([
    ['CFE-B', 0.12],
    ['CFE-A', -0.1],
  ])('the answer of two days of grabs names it and ends the question: %s, %d NTU', (wrong, errorNtu) => {
    const askedMs = at(4)
    const said = recommendationsOf({ wrong, errorNtu: step(errorNtu), days: 6, isSampled: atMs => atMs > askedMs })
    const asked = said.filter(event => event.subject === POINT)
    expect(openings(said).map(([subject]) => subject)).toEqual([POINT, wrong])
    expect(Date.parse(asked[0]!.time)).toBeLessThan(askedMs)
    expect(asked.at(-1)?.data.phase).toBe('closed')
    // The question stands until the unit is named: it is never taken back on the way there.
    const named = said.find(event => event.subject === wrong)
    expect(asked.filter(event => event.type === 'recommendation.withdrawn')).toEqual([])
    expect(asked.at(-1)?.time).toBe(named?.time)
    expect(asked.at(-1)?.data.reason).toMatch(/superseded/)
  })

  it('it is asked of, though a witness that no longer speaks once carried a name', () => {
    const said = recommendationsOf({ wrong: 'CFE-B', errorNtu: step(0.12), days: 5, isSampled: never }, state => {
      // As a sample leaves it that was taken after the begin as it then seemed, and before it as it seems now.
      for (const unit of state.points.get('CFE')!.fold.units)
        if (state.workedMs < BEGIN_MS + HOUR_MS) unit.opening.held = 1
      return state
    })
    expect(openings(said)).toEqual([[POINT, 'take_grab']])
  })
})
