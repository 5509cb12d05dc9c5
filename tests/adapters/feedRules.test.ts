import { describe, expect, it } from 'vitest'
import { parseRegister } from '../../src/adapters/registerFile.js'

const FEED = '{ name: a, type: mqtt, topic: site/# }'

function problems(...feeds: readonly string[]): readonly string[] {
  const text = `plant: hollin-weir
points: { CFE: { analyzers: { CFE-A: { unit: NTU } } } }
feeds:
${feeds.map(feed => `  - ${feed}`).join('\n')}
`
  const read = parseRegister(text, 'register.yaml')
  return read.ok ? [] : read.problems
}

describe('feeds of one register', () => {
  it.each(['clock', 'drop', 'service'])('must not be called %s, as inputs of the service itself are', name => {
    expect(problems(`{ name: ${name}, type: mqtt, topic: site/# }`)).toEqual([
      `register.yaml:4:13 feeds.0.name: "${name}" is refused: must be none of clock, drop, service: the service calls its own inputs so`,
    ])
  })

  it.each([
    ['of the embedded broker, whose order decides', [FEED, '{ name: b, type: mqtt, topic: site/+ }']],
    [
      'of two brokers',
      [
        '{ name: a, type: mqtt, topic: site/#, connection: north }',
        '{ name: b, type: mqtt, topic: site/#, connection: south }',
        '{ name: c, type: mqtt, topic: site/#, url: "mqtt://broker.example" }',
        '{ name: d, type: mqtt, topic: site/#, url: "mqtt://broker.example:1884" }',
      ],
    ],
    [
      'of one broker that take different topics, though it sends both all of them',
      [
        '{ name: a, type: mqtt, topic: "site/turb-{analyzer}", connection: north }',
        '{ name: b, type: mqtt, topic: "site/level-{point}", connection: north }',
      ],
    ],
    ['from a broker where the service may publish nothing', ['{ name: a, type: mqtt, topic: "#", connection: north }']],
    ['beside what the service publishes', ['{ name: a, type: mqtt, topic: turbidrift/in/# }']],
  ])('may be %s', (_, feeds) => {
    expect(problems(...feeds)).toEqual([])
  })

  it('must not match what the service publishes on the embedded broker', () => {
    const out = 'must not match topics under turbidrift/hollin-weir/#, where the service publishes on the same broker'
    const topics = ['"#"', 'turbidrift/#', '+/+/status', 'turbidrift/hollin-weir', '"turbidrift/{plant}-x/status"']
    for (const topic of topics) expect(problems(`{ name: a, type: mqtt, topic: ${topic} }`).join()).toContain(out)
  })

  it('must not take a message twice from one broker, named or by address', () => {
    const twice = (where: string, again = where) =>
      problems(
        `{ name: a, type: mqtt, topic: site/#, ${where} }`,
        `{ name: b, type: mqtt, topic: "site/{analyzer}", ${again} }`,
      )
    expect(twice('connection: north')).toEqual([
      'register.yaml:5:35 feeds.1.topic: "site/{analyzer}" is refused: must not match topics that the feed a (site/#) takes from the same broker: a message there would be taken twice',
    ])
    expect(twice('url: "mqtt://Broker.example"', 'url: "mqtt://broker.example:1883"')).toHaveLength(1)
    expect(twice('url: "mqtt://localhost"', 'url: "mqtt://127.0.0.1"')).toHaveLength(1)
  })

  it('must be no shared subscription, and the reason is said', () => {
    const [problem] = problems('{ name: a, type: mqtt, topic: $share/all/site/#, connection: north }')
    expect(problem).toContain('register.yaml:4:35 feeds.0.topic: "$share/all/site/#" is refused: must be no shared')
    expect(problem).toContain('only turbidrift bridge can share one')
  })

  it('must have a filter and an address that are ones, every mistake at once and no address shown', () => {
    const text = problems(
      '{ name: a, type: mqtt, topic: "a/#/b" }',
      '{ name: b, type: mqtt, topic: b/#, url: "broker:hidden-word@example" }',
      '{ name: c, type: mqtt, topic: c/#, url: "https://broker.example" }',
    )
    expect(text.map(problem => problem.slice(0, 34))).toEqual([
      'register.yaml:4:35 feeds.0.topic: ',
      'register.yaml:5:45 feeds.1.url: a ',
      'register.yaml:6:45 feeds.2.url: a ',
    ])
    expect(text[1]).toContain('must be mqtt://host:port, or mqtts://host:port for TLS')
    expect(text.join()).not.toContain('hidden-word')
  })
})
