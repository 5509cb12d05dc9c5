import { describe, expect, it } from 'vitest'
import { DAY_MS, formatInstant, HOUR_MS } from '../../src/model/time.js'
import { smallRegister } from './support/register.js'
import { messagesOf, ofType, run, withTicks } from './support/run.js'
import { at, grab, inOrder, makeStream, prompt, type Sent, type Wire, work } from './support/stream.js'

const register = smallRegister()
const DAYS = 14
const sent = makeStream({ register, seed: 71, days: DAYS })

/** Hands a message in at an instant, whatever time it is about. */
function handedIn(message: Wire, comesMs: number): Sent {
  return { atMs: comesMs, comesMs, message }
}

function play(also: readonly Sent[]) {
  return run(messagesOf(withTicks(inOrder([...sent, ...also]))), { register, ticks: 'recorded' })
}

function unitOf(found: ReturnType<typeof play>) {
  return found.state.points.get('FE1')!.fold.units[0]!
}

describe('a record from before the reach of late facts', () => {
  const typedInMs = at(13)
  const fromMs = typedInMs - 12 * DAY_MS

  it('of a state says nothing of now, and is counted', () => {
    const found = play([
      handedIn(work('FE1-A', fromMs, 'maintenance_on'), typedInMs),
      handedIn({ kind: 'process', point: 'FE1', time: '2026-04-02T00:00:00Z', state: 'off_line' }, typedInMs),
    ])
    expect(unitOf(found).gate.maintenanceSinceMs).toBeNull()
    expect(found.state.points.get('FE1')?.fold.service.state).toBeNull()
    expect(found.state.points.get('FE1')?.excluded.too_old).toBe(2)
  })

  it('of work stands in the record behind newer work, and begins no proof', () => {
    const newer = prompt(at(5), work('FE1-A', at(5), 'zero'))
    const found = play([newer, handedIn(work('FE1-A', fromMs, 'zero'), typedInMs)])
    expect(unitOf(found).adjustedMs).toBe(at(5))
    expect(unitOf(found).works.map(one => one.atMs)).toEqual([fromMs, at(5)])
    expect(ofType(found.events, 'work.undecided')).toEqual([])
  })
})

describe('a record from the future', () => {
  it.each([
    ['grab', grab('FE1', at(400), 0.2, 'G-F')],
    ['work', work('FE1-A', at(400), 'zero')],
  ])('of %s is refused with field, value and rule', (kind, message) => {
    const found = play([handedIn(message, at(6))])
    const [told] = ofType(found.events, 'message.rejected')
    expect(told?.data.field).toBe(`${kind}.${kind === 'grab' ? 'sampled' : 'time'}`)
    expect(told?.data.rule).toContain('a day after plant time')
    expect(found.state.points.get('FE1')?.facts.every(fact => fact.dueMs < at(30))).toBe(true)
  })
})

describe('a check of the laboratory instrument', () => {
  const check = (atMs: number, asFound: number): Sent =>
    handedIn(
      { kind: 'laboratory_check', laboratoryInstrument: 'L-1', time: formatInstant(atMs), reference: 0.1, asFound },
      at(6),
    )

  it.each<[string, readonly Sent[], string, RegExp]>([
    ['from the future', [check(at(400), 0.1)], 'laboratory_check.time', /a day after plant time/],
    ['with two results', [check(at(5), 0.1), check(at(5), 0.2)], 'laboratory_check.asFound', /is known as 0\.1/],
  ])('%s is refused with field and rule', (_, checks, field, rule) => {
    const [told] = ofType(play(checks).events, 'message.rejected')
    expect(told?.data.field).toBe(field)
    expect(told?.data.rule).toMatch(rule)
  })

  it('that comes twice counts once, and nothing is refused', () => {
    const found = play([check(at(5), 0.1), check(at(5), 0.1)])
    expect(ofType(found.events, 'message.rejected')).toEqual([])
    expect(found.state.laboratory.checks).toHaveLength(1)
  })
})

describe('records of one visit', () => {
  const foreign = {
    ...register,
    standards: [
      { id: 'S-A', type: 'secondary_standard' as const, analyzer: 'CFE-A', assignedNtu: 35 },
      { id: 'S-B', type: 'secondary_standard' as const, analyzer: 'CFE-B', assignedNtu: 35 },
    ],
  }
  const visit = (gapMs: number): Sent[] => [
    prompt(
      at(3),
      work('CFE-A', at(3), 'span', { reference: { type: 'secondary_standard', id: 'S-B', assigned: 35 }, asLeft: 35 }),
    ),
    prompt(at(3) + gapMs, work('CFE-A', at(3) + gapMs, 'cleaned')),
  ]
  const verdicts = (gapMs: number) => {
    const messages = messagesOf(withTicks(inOrder([...sent, ...visit(gapMs)])))
    const { events } = run(messages, { register: foreign, ticks: 'recorded' })
    return events.flatMap(event => (event.type.startsWith('work.') ? [event.type] : []))
  }

  it('share what speaks against them: a foreign standard is no proof, whatever is cleaned after it', () => {
    expect(verdicts(HOUR_MS / 12)).toEqual(['work.undecided'])
  })

  it('of two visits are judged apart', () => {
    expect(verdicts(6 * HOUR_MS)).toEqual(['work.confirmed'])
  })
})
