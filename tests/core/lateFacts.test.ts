import { describe, expect, it } from 'vitest'
import { DAY_MS, formatInstant, HOUR_MS } from '../../src/model/time.js'
import { BUSY_REGISTER, busyStream, closing } from './support/busyStream.js'
import { foldText } from './support/fold.js'
import { messagesOf, ofType, type Run, run, storyOf, withTicks } from './support/run.js'
import { at, grab, inOrder, prompt, type Sent } from './support/stream.js'

const DAYS = 8
const sent = [...busyStream(31, DAYS), ...closing(BUSY_REGISTER, at(DAYS))]
const onTime = play(sent)

/**
 * A fact that comes days late ends in the state it would have led to on time. Left out of the comparison: ids,
 * revisions, when something became known or published.
 */
describe('facts that come late', () => {
  it('has something to be late for', () => {
    expect(storyOf(onTime.events).filter(line => / (recommendation|work)\S* FE1-A/.test(line))).toEqual([
      expect.stringContaining('recommendation.opened'),
      expect.stringContaining('recommendation.answered'),
      expect.stringContaining('recommendation.revised'),
      expect.stringContaining('work.confirmed'),
      expect.stringContaining('recommendation.closed'),
    ])
  })

  it.each([
    ['one grab sample', (one: Sent) => one.message.sampleId === 'FE1-8'],
    ['every second grab sample', (one: Sent) => one.message.kind === 'grab' && /[02468]$/.test(idOf(one))],
    ['all grab samples of a point', (one: Sent) => one.message.kind === 'grab' && one.message.point === 'CFE'],
    ['the suspect bottle', (one: Sent) => one.message.sampleId === 'CFE-8'],
    ['the sample that refutes the suspect bottle', (one: Sent) => one.message.sampleId === 'CFE-9'],
    ['the work record', (one: Sent) => one.message.action === 'zero'],
    ['all work records', (one: Sent) => one.message.kind === 'work'],
    ['the process states', (one: Sent) => one.message.kind === 'process'],
  ])('%s three days late', (_what, isLate) => {
    // Only what still comes before the end can be late at all.
    const late = sent.filter(one => isLate(one) && one.atMs < at(DAYS - 3))
    expect(late.length).toBeGreaterThan(0)
    const delayed = inOrder(sent.map(one => (late.includes(one) ? { ...one, comesMs: one.comesMs + 3 * DAY_MS } : one)))
    expect(differences(play(delayed), onTime)).toEqual([])
  })

  describe('up to the reach of ten days', () => {
    const long = [...busyStream(32, 14), ...closing(BUSY_REGISTER, at(14))]
    const longOnTime = play(long)

    it.each([1, 5.5, 9.9])('a work record %s days late', days => {
      const delayed = inOrder(
        long.map(one => (one.message.kind === 'work' ? { ...one, comesMs: one.comesMs + days * DAY_MS } : one)),
      )
      expect(differences(play(delayed), longOnTime)).toEqual([])
    })

    it('older ones are kept and used from now on', () => {
      const old = { ...prompt(at(0, 12), grab('FE1', at(0, 12), 0.2, 'FE1-old')), comesMs: at(13) }
      const { state, outcomes } = play(inOrder([...long, old]))
      expect(outcomes.filter(one => one.kind === 'rejected')).toEqual([])
      const point = state.points.get('FE1')
      expect(point?.pairs.find(pair => pair.sampleId === 'FE1-old')?.use).toBe('no_usable_reading')
    })
  })

  it('a result corrected three days later', () => {
    const wrong = sent.map(one => {
      if (one.message.sampleId !== 'FE1-8') return one
      return { ...one, message: { ...one.message, value: 1.9 } }
    })
    const first = sent.find(one => one.message.sampleId === 'FE1-8')
    if (first === undefined) throw new Error('the stream has no sample FE1-8')
    const right = {
      atMs: first.atMs,
      comesMs: first.comesMs + 3 * DAY_MS,
      message: { ...first.message, corrects: 'FE1-8' },
    }
    expect(differences(play(inOrder([...wrong, right])), onTime)).toEqual([])
  })

  it('a result corrected under another name', () => {
    const first = sent.find(one => one.message.sampleId === 'CFE-12')
    if (first === undefined) throw new Error('the stream has no sample CFE-12')
    const renamed = { ...first.message, sampleId: 'CFE-12b' }
    const expected = play(sent.map(one => (one === first ? { ...one, message: renamed } : one)))
    const wrong = sent.map(one => (one === first ? { ...one, message: { ...one.message, value: 0.05 } } : one))
    const right = { ...first, comesMs: first.comesMs + 3 * DAY_MS, message: { ...renamed, corrects: 'CFE-12' } }
    expect(differences(play(inOrder([...wrong, right])), expected)).toEqual([])
  })
})

describe('readings for blocks that stayed empty', () => {
  const [fromMs, untilMs] = [at(2, 3), at(2, 12)]
  const inGap = (one: Sent): boolean => one.message.kind === 'reading' && one.atMs >= fromMs && one.atMs < untilMs

  it('a gateway silent for nine hours empties its buffer at once: all as on time', () => {
    const buffered = inOrder(sent.map(one => (inGap(one) ? { ...one, comesMs: untilMs + (one.atMs % 1_000) } : one)))
    const found = play(buffered)
    expect(storyOf(found.events).some(line => line.includes('analyzer.finding small-plant began'))).toBe(true)
    expect(differences(found, onTime)).toEqual([])
  })

  it('a buffer cut in the middle of a block and emptied in an hour loses the blocks at the cuts alone', () => {
    const cutMs = fromMs + 7 * 60_000
    const buffered = inOrder(
      sent.map(one => {
        if (!inGap(one) || one.atMs < cutMs) return one
        return { ...one, comesMs: untilMs + (one.atMs - fromMs) / 9 }
      }),
    )
    const found = play(buffered)
    const late = found.outcomes.filter(one => one.kind === 'excluded' && one.reason === 'late')
    // Three units, three readings a block; the hour of emptying is cut by five closings.
    expect(late.length).toBeLessThanOrEqual(3 * 3 * 6)
    const [a, b] = [found, onTime].map(one => one.state.points.get('FE1')?.pairs.map(pair => [pair.sampleId, pair.use]))
    expect(a).toEqual(b)
  })

  it('counts as late what comes for a block that has closed with data', () => {
    const again = { ...prompt(at(2, 5), { ...readingAt(at(2, 5)), value: 7 }), comesMs: at(2, 9) }
    const found = play(inOrder([...sent, again]))
    expect(found.outcomes.filter(one => one.kind === 'excluded')).toEqual([{ kind: 'excluded', reason: 'late' }])
    expect(differences(found, onTime)).toEqual([])
  })
})

describe('what late facts make of what was said', () => {
  it('opens at the plant time at which the fact came in, names that as known and the onset as it was', () => {
    const late = inOrder(
      sent.map(one =>
        one.message.kind === 'grab' && one.message.point === 'FE1' && one.atMs < at(4)
          ? { ...one, comesMs: Math.max(one.comesMs, at(3, 6, 5)) }
          : one,
      ),
    )
    const [opened] = ofType(play(late).events, 'recommendation.opened').filter(one => one.subject === 'FE1-A')
    const [before] = ofType(onTime.events, 'recommendation.opened').filter(one => one.subject === 'FE1-A')
    expect(before?.time).not.toBe(opened?.time)
    expect(opened?.time).toBe('2026-04-04T06:17:00Z')
    expect(opened?.data.known).toBe(opened?.time)
    expect(Math.abs(Date.parse(opened?.data.onset?.estimate ?? '') - at(1, 6))).toBeLessThan(12 * HOUR_MS)
  })

  it('withdraws what no longer follows, once, at the plant time of the correction', () => {
    // The bench read three samples of CFE wrong; nothing else is the matter there.
    const wrongIds = ['CFE-13', 'CFE-14', 'CFE-15', 'CFE-16', 'CFE-17']
    const comesMs = at(5, 1)
    const wrong = sent.map(one => {
      if (!wrongIds.includes(idOf(one))) return one
      return { ...one, message: { ...one.message, value: (one.message.value as number) - 0.2 } }
    })
    const corrections = sent
      .filter(one => wrongIds.includes(idOf(one)))
      .map(one => ({ ...one, comesMs, message: { ...one.message, corrects: idOf(one) } }))
    const found = play(inOrder([...wrong, ...corrections]))
    const opened = ofType(found.events, 'recommendation.opened').filter(one => one.data.point === 'CFE')
    const withdrawn = ofType(found.events, 'recommendation.withdrawn').filter(one => one.data.point === 'CFE')
    expect(opened.length).toBeGreaterThan(0)
    expect(withdrawn.map(one => one.subject)).toEqual(opened.map(one => one.subject))
    for (const one of withdrawn) expect(one.time).toBe(formatInstant(at(5, 1, 2)))
    expect(differences(found, onTime)).toEqual([])
  })
})

function play(messages: readonly Sent[]): Run {
  return run(messagesOf(withTicks(messages)), { register: BUSY_REGISTER, ticks: 'recorded' })
}

function idOf(one: Sent): string {
  return typeof one.message.sampleId === 'string' ? one.message.sampleId : ''
}

function readingAt(atMs: number): Sent['message'] {
  return { kind: 'reading', analyzer: 'FE1-A', time: new Date(atMs + 60_000).toISOString(), value: 0.2, unit: 'NTU' }
}

/** Paths at which the folds of two runs part. */
function differences(found: Run, expected: Run): string[] {
  const paths: string[] = []
  compare(foldText(found.state), foldText(expected.state), '', paths)
  return paths.slice(0, 15)
}

function compare(a: unknown, b: unknown, path: string, into: string[]): void {
  if (typeof a === 'object' && typeof b === 'object' && a !== null && b !== null) {
    const keys = [...new Set([...Object.keys(a), ...Object.keys(b)])]
    for (const key of keys)
      compare((a as Record<string, unknown>)[key], (b as Record<string, unknown>)[key], `${path}.${key}`, into)
  } else if (a !== b) into.push(`${path}: ${briefly(a)} where ${briefly(b)}`)
}

function briefly(value: unknown): string {
  return value === undefined ? 'nothing' : JSON.stringify(value).slice(0, 60)
}
