import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { filtersOverlap } from '../../src/adapters/filtersOverlap.js'
import { parseTopicTemplate } from '../../src/adapters/topicTemplate.js'

// Wildcards, the parent level and the rule on `$` topics: OASIS MQTT 5.0 §4.7.1 and §4.7.2, with their examples.
describe('topic filters that can match the same topic', () => {
  it.each([
    ['sport/tennis/player1/#', 'sport/tennis/player1', true],
    ['sport/tennis/player1/#', 'sport/tennis/player1/score/wimbledon', true],
    ['sport/#', 'sport', true],
    ['sport/tennis/+', 'sport/tennis/player1', true],
    ['sport/tennis/+', 'sport/tennis/player1/ranking', false],
    ['sport/+', 'sport', false],
    ['sport/+', 'sport/', true],
    ['+/+', '/finance', true],
    ['/+', '/finance', true],
    ['+', '/finance', false],
    ['#', '$SYS/broker/clients', false],
    ['+/monitor/Clients', '$SYS/monitor/Clients', false],
    ['$SYS/#', '$SYS/monitor/+', true],
    ['$SYS/monitor/Clients', '$SYS/monitor/+', true],
    ['#', '+/a', true],
    ['a/+/c', '+/b/#', true],
    ['a/+/c', '+/b/d', false],
    ['turbidrift/hollin-weir/#', 'turbidrift/in/#', false],
    ['turbidrift/hollin-weir/#', 'turbidrift/+/readings', true],
    ['site/turb-{analyzer}', 'site/flow-{analyzer}', false],
    ['site/turb-{analyzer}', 'site/{analyzer}-raw', true],
    ['site/turb-{analyzer}', 'site/turb-', false],
    ['site/turb-{analyzer}', 'site/turb-A', true],
    ['site/{analyzer}', 'site/', false],
  ])('%s and %s: %s', (a, b, overlap) => {
    expect(filtersOverlap(a, b)).toBe(overlap)
    expect(filtersOverlap(b, a)).toBe(overlap)
  })

  it('says yes where some topic of few letters and levels is matched by both, and no where none is', () => {
    let yes = 0
    fc.assert(
      fc.property(filter, filter, (a, b) => {
        const witness = TOPICS.some(topic => matches(a, topic) && matches(b, topic))
        if (witness) yes++
        expect(filtersOverlap(a, b)).toBe(witness)
      }),
      { seed: 20261128, numRuns: 3_000 },
    )
    expect(yes).toBeGreaterThan(300)
  })

  it('agrees with what templates match', () => {
    const words = [1, 2, 3, 4, 5].flatMap(length => wordsOf(length))
    const witnesses = words.flatMap(first => (first.length > 2 ? [] : words.map(second => `${first}/${second}`)))
    fc.assert(
      fc.property(template, template, (a, b) => {
        const [one, other] = [matcher(a), matcher(b)]
        expect(filtersOverlap(a, b)).toBe(witnesses.some(topic => one(topic) && other(topic)))
      }),
      { seed: 20261128, numRuns: 2_000 },
    )
  })

  it('refuses what is no filter', () => {
    expect(() => filtersOverlap('a/#/b', 'a')).toThrow('must have # as its last level only')
  })
})

const LETTERS = ['a', 'b', '', '$a'] as const
const level = fc.constantFrom(...LETTERS, '+', '+')
const filter = fc
  .tuple(fc.array(level, { minLength: 1, maxLength: 3 }), fc.boolean())
  .map(([levels, rest]) => [...levels, ...(rest ? ['#'] : [])].join('/'))
  .filter(text => text !== '')
/** One level more than a filter may have, so that `#` has something to match; the empty one, which no broker takes, for `/#`. */
const TOPICS = topics(LETTERS, 4)

const affix = fc.constantFrom('', 'a', 'b', 'ab')
const template = fc
  .tuple(fc.constantFrom('a', '+', 'ab'), affix, affix)
  .map(([first, before, after]) => `${first}/${before}{analyzer}${after}`)

function topics(levels: readonly string[], most: number): string[] {
  if (most === 0) return []
  const shorter = topics(levels, most - 1)
  const whole = shorter.filter(topic => topic.split('/').length === most - 1)
  return most === 1 ? [...levels] : [...shorter, ...whole.flatMap(topic => levels.map(next => `${topic}/${next}`))]
}

/** Every word of so many letters. */
function wordsOf(length: number): string[] {
  return length === 0 ? [''] : wordsOf(length - 1).flatMap(word => [`${word}a`, `${word}b`])
}

function matcher(text: string): (topic: string) => boolean {
  const parsed = parseTopicTemplate(text)
  if (!parsed.ok) throw new Error(text)
  return topic => parsed.template.match(topic) !== undefined
}

/** §4.7 read once more, by itself. */
function matches(text: string, topic: string): boolean {
  if (topic.startsWith('$') && /^[+#]/.test(text)) return false
  const pattern = text
    .split('/')
    .map(part => (part === '+' ? '[^/]*' : part.replace('$', '\\$')))
    .join('/')
  return new RegExp(`^${pattern.replace(/(^|\/)#$/, (_, slash: string) => (slash === '' ? '.*' : '(/.*)?'))}$`).test(
    topic,
  )
}
